"""Who stands in for a person who is away."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.contacts import PersonShape
from alarms.models import Substitution
from alarms.services.contacts import StatedContact
from alarms.services.substitutions import (
    StatedSubstitution,
    state_substitution,
    substitutions_of,
    withdraw_substitution,
)
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.fields import InstantField, MomentField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.tenancy import Right


class StandInIn(StrictSerializer):
    """Who is away, who stands in, from when until when."""

    away = PersonShape(help_text="on a call list or rota of yours, or a fallback person")
    stand_in = PersonShape(help_text="of the same organisation")
    begins = MomentField(help_text="inclusive; a day is one of the person who is away")
    ends = MomentField(help_text="a day: to its end; an instant: exclusive")
    reason = TextField(max_length=500)


class StandInOut(StrictSerializer):
    """A stand-in as on file."""

    id = serializers.IntegerField()
    away = PersonShape()
    stand_in = PersonShape()
    begins = InstantField(source="starts_at", help_text="inclusive")
    ends = InstantField(source="ends_at", help_text="exclusive")
    reason = serializers.CharField()
    recorded_at = InstantField()
    recorded_by = serializers.CharField()
    withdrawn_at = InstantField(allow_null=True)
    withdrawn_reason = serializers.CharField(allow_null=True)
    withdrawn_by = serializers.CharField(allow_null=True)


BODY = {
    "away": {"name": "Ann", "email": "ann@example.com"},
    "stand_in": {"name": "Cem", "email": "cem@example.com"},
    "begins": "2026-07-01",
    "ends": "2026-07-14",
    "reason": "Vacation.",
}
ANSWER: dict[str, Any] = {
    "id": 8,
    **BODY,
    "begins": "2026-07-01T04:00:00Z",
    "ends": "2026-07-15T04:00:00Z",
    "recorded_at": "2026-06-20T12:00:00Z",
    "recorded_by": "dock office",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
}
ANSWER_EXAMPLE = OpenApiExample("a vacation", value=ANSWER, response_only=True)


class StandIns(ScopedView, GenericAPIView[Substitution]):
    """Those of the caller's own organisation."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = StandInOut

    @extend_schema(
        operation_id="list_stand_ins",
        tags=["alarms"],
        summary="Who stands in for whom in your organisation, newest entry first",
        parameters=[PagedQuery],
        responses={200: StandInOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int) -> Response:
        """One page, withdrawn ones too: they say so."""
        page = self.paginate_queryset(substitutions_of(self.own_organisation_or_404(organisation_id)))
        return self.get_paginated_response(StandInOut(page, many=True).data)

    @extend_schema(
        operation_id="state_stand_in",
        tags=["alarms"],
        summary="State that a person is away, and who stands in",
        description="Holds wherever the person is listed or on duty, from the next call on. Of two for one person and "
        "moment the later stated counts. Nothing is edited afterwards: withdraw it, and state another.",
        request=StandInIn,
        responses={201: StandInOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("a vacation", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def post(self, request: Request, organisation_id: int) -> Response:
        """The stand-in as on file."""
        organisation = self.own_organisation_or_404(organisation_id)
        body = StandInIn(data=request.data)
        body.is_valid(raise_exception=True)
        checked = dict(body.validated_data)
        stated = StatedSubstitution(
            away=StatedContact(organisation=None, **checked.pop("away")),
            stand_in=StatedContact(organisation=None, **checked.pop("stand_in")),
            **checked,
        )

        def work() -> Mapping[str, Any]:
            row = state_substitution(
                organisation=organisation, stated=stated, by=self.actor.name, now=self.now
            )
            return StandInOut(row).data

        return state_once(request, organisation=organisation, now=self.now, work=work)


class StandInWithdrawal(ScopedView):
    """Taking a stand-in back."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="withdraw_stand_in",
        tags=["alarms"],
        summary="Take a stand-in back: the person is told again from the next call on",
        description="It stays in the list with the reason. The same reason again changes nothing.",
        request=WithdrawalIn,
        responses={200: StandInOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "Back early."}, request_only=True),
            ANSWER_EXAMPLE,
        ],
    )
    def post(self, request: Request, organisation_id: int, fact_id: int) -> Response:
        """The stand-in with its withdrawal."""
        rows = substitutions_of(self.own_organisation_or_404(organisation_id))
        row = rows.filter(pk=fact_id).first()
        if row is None:
            raise Http404
        reason = reason_of(request)
        taken = withdraw_substitution(row, reason=reason, by=self.actor.name, now=self.now)
        return Response(StandInOut(taken).data)

"""Who is let in to a facility: dated grants, given and ended by those who may share it."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.fields import InstantField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField, WordField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import FacilityAccess, Organisation
from equipment.services.access import end_grant, grant_access
from equipment.tenancy import Right
from equipment.vocabulary import AccessRole


class GrantIn(StrictSerializer):
    """Whom to let in, as what, and from when to when.

    An organisation is named by its exact name, which it tells you itself: numbers could be tried one after another
    until they show who else is here.
    """

    organisation = TextField(max_length=200, help_text="its exact name")
    role = WordField(choices=AccessRole.choices)
    starts_at = InstantField(required=False, help_text="left out: now")
    ends_at = InstantField(required=False, allow_null=True, default=None, help_text="null: until ended")


class GrantEnd(StrictSerializer):
    """When to end it."""

    ends_at = InstantField(required=False, help_text="from then on it no longer holds; left out: now")


class GrantedOrganisation(StrictSerializer):
    """The organisation that was let in."""

    id = WholeField(read_only=True)
    name = TextField(read_only=True)


class GrantOut(StrictSerializer):
    """A grant: it holds from `starts_at` to, not including, `ends_at`."""

    id = WholeField(read_only=True)
    organisation = GrantedOrganisation(read_only=True)
    role = WordField(choices=AccessRole.choices, read_only=True)
    starts_at = InstantField(read_only=True)
    ends_at = InstantField(read_only=True, allow_null=True)
    granted_by = serializers.CharField(read_only=True)


BODY = {"organisation": "Harbor Tank Testing", "role": "contractor", "ends_at": "2027-01-01T00:00:00-05:00"}
ANSWER: dict[str, Any] = {
    "id": 31,
    "organisation": {"id": 9, "name": "Harbor Tank Testing"},
    "role": "contractor",
    "starts_at": "2026-03-04T15:00:00Z",
    "ends_at": "2027-01-01T05:00:00Z",
    "granted_by": "R. Ames",
}
ANSWER_EXAMPLE = OpenApiExample("as on file", value=ANSWER, response_only=True)


class Grants(ScopedView, GenericAPIView[FacilityAccess]):
    """Who is let in, was, and will be."""

    rights: ClassVar = {"GET": Right.SHARE, "POST": Right.SHARE}
    query_shape: ClassVar = PagedQuery
    serializer_class = GrantOut

    @extend_schema(
        operation_id="list_grants",
        tags=["access"],
        summary="Who is let in to a facility, newest first",
        parameters=[PagedQuery],
        responses={200: GrantOut(many=True), **problem_responses(403, 404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page of grants, ended ones too."""
        facility = self.facility_or_404(facility_id)
        page = self.paginate_queryset(facility.grants.select_related("organisation"))
        return self.get_paginated_response(GrantOut(page, many=True).data)

    @extend_schema(
        operation_id="grant_access",
        tags=["access"],
        summary="Let an organisation in to a facility",
        request=GrantIn,
        responses={201: GrantOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("a contractor", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The new grant."""
        facility = self.facility_or_404(facility_id)
        body = GrantIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = {"starts_at": self.now} | body.validated_data
        organisation = _named(stated.pop("organisation"))

        def work() -> Mapping[str, Any]:
            grant = grant_access(
                facility=facility, organisation=organisation, by=self.actor.name, now=self.now, **stated
            )
            return GrantOut(grant).data

        return state_once(request, organisation=self.organisation_at(facility), now=self.now, work=work)


class GrantEnding(ScopedView):
    """Ending a grant."""

    rights: ClassVar = {"POST": Right.SHARE}

    @extend_schema(
        operation_id="end_grant",
        tags=["access"],
        summary="End a grant, now or later",
        description="A grant that has not begun by then is taken back altogether: 204.",
        request=GrantEnd,
        responses={200: GrantOut, 204: None, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample(
                "at the end of the year", value={"ends_at": "2027-01-01T00:00:00-05:00"}, request_only=True
            ),
            ANSWER_EXAMPLE,
        ],
    )
    def post(self, request: Request, facility_id: int, grant_id: int) -> Response:
        """The grant with its end."""
        facility = self.facility_or_404(facility_id)
        grant = facility.grants.filter(pk=grant_id).select_related("organisation").first()
        if grant is None:
            raise Http404
        body = GrantEnd(data=request.data)
        body.is_valid(raise_exception=True)
        ended = end_grant(grant=grant, at=body.validated_data.get("ends_at", self.now), now=self.now)
        return Response(status=204) if ended is None else Response(GrantOut(ended).data)


def _named(name: str) -> Organisation:
    organisation = Organisation.objects.filter(name=name).first()
    if organisation is None:
        unknown = ErrorDetail("No organisation has exactly this name.", code="unknown")
        raise ValidationError({"organisation": [unknown]})
    return organisation

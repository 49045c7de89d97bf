"""Dated changes of a facility and its components: stated, listed, taken back with a reason."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from equipment.api import change_shapes as shapes
from equipment.api.idempotency import state_once
from equipment.api.schema import body_problems, problem_responses
from equipment.api.stated import field_for
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.change_log import Change, newest_changes, place_of
from equipment.models import Component, Facility
from equipment.services.changes import changeable_field, state_change, state_status, withdraw_change
from equipment.services.register import component_named
from equipment.tenancy import Right

STATUS: dict[str, Any] = {
    "type": "status",
    "component": "S1",
    "effective_on": "2026-02-27",
    "status": "temporarily out of service",
    "residue_in": 0.5,
    "residue_pct": None,
}
FIELD = {
    "type": "field",
    "component": "SB1",
    "effective_on": "2026-02-27",
    "field": "both_walls_monitored",
    "value": False,
}
ANSWER = {
    "id": "status-12",
    **STATUS,
    "recorded_at": "2026-02-27T18:00:00Z",
    "recorded_by": "R. Ames",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
}
ANSWER_EXAMPLE = OpenApiExample("as on file", value=ANSWER, response_only=True)
PAGE = inline_serializer(
    "ChangePage",
    {
        "next": serializers.URLField(allow_null=True, help_text="address of the next page"),
        "previous": serializers.URLField(
            allow_null=True, help_text="always null: this list is read forwards"
        ),
        "results": shapes.one_of("Change", shapes.SHAPES_OUT, many=True),
    },
)


class Changes(ScopedView):
    """What began on some day."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.REGISTER}
    query_shape: ClassVar = shapes.ChangeQuery

    @extend_schema(
        operation_id="list_changes",
        tags=["changes"],
        summary="Statuses and other dated changes, newest first by the day they began",
        parameters=[shapes.ChangeQuery],
        responses={200: PAGE, **problem_responses(404, 422)},
        examples=[
            OpenApiExample(
                "a page", value={"next": None, "previous": None, "results": [ANSWER]}, response_only=True
            )
        ],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page of changes, withdrawn ones too: they say so."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        rows, more = newest_changes(
            facility.pk, tag=asked.get("component"), before=asked.get("cursor"), limit=asked["limit"]
        )
        cursor = shapes.cursor_of(place_of(rows[-1])) if more else ""
        following = replace_query_param(request.build_absolute_uri(), "cursor", cursor) if more else None
        return Response(
            {"next": following, "previous": None, "results": [shapes.answer(one) for one in rows]}
        )

    @extend_schema(
        operation_id="state_change",
        tags=["changes"],
        summary="State what began on some day",
        description="One status a day, and one value a field and day; withdraw the wrong one first.",
        request=shapes.one_of("ChangeStatement", shapes.SHAPES_IN),
        responses={
            201: shapes.one_of("Change", shapes.SHAPES_OUT),
            **body_problems(403, 404, 409, 428),
        },
        examples=[
            OpenApiExample("closed for the winter", value=STATUS, request_only=True),
            OpenApiExample("wall no longer monitored", value=FIELD, request_only=True),
            ANSWER_EXAMPLE,
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The change as it now stands."""
        facility = self.facility_or_404(facility_id)
        body = shapes.body_for(request.data)
        body.is_valid(raise_exception=True)
        stated = dict(body.validated_data)

        def work() -> Mapping[str, Any]:
            return shapes.answer(self._state(facility, stated))

        return state_once(request, organisation=self.organisation_at(facility), now=self.now, work=work)

    def _state(self, facility: Facility, stated: dict[str, Any]) -> Change:
        component = component_named(facility, stated["component"], "/component")
        told: dict[str, Any] = {
            "facility": facility,
            "component": component,
            "effective_on": stated["effective_on"],
            "by": self.actor.name,
            "now": self.now,
        }
        if stated["type"] == "status":
            residue = {name: stated[name] for name in ("residue_in", "residue_pct")}
            return state_status(status=stated["status"], **residue, **told)
        value = _value(component, stated["field"], stated["value"])
        return state_change(field=stated["field"], value=value, **told)


class ChangeWithdrawal(ScopedView):
    """Taking back what was stated by mistake."""

    rights: ClassVar = {"POST": Right.REGISTER}

    @extend_schema(
        operation_id="withdraw_change",
        tags=["changes"],
        summary="Take back a change that should never have been stated",
        description="It stays in the list with the reason. The same reason again changes nothing.",
        request=shapes.WithdrawalIn,
        responses={200: shapes.one_of("Change", shapes.SHAPES_OUT), **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("why", value={"reason": "Stated for the wrong tank."}, request_only=True),
            ANSWER_EXAMPLE,
        ],
    )
    def post(self, request: Request, facility_id: int, change_id: str) -> Response:
        """The change with its withdrawal."""
        facility = self.facility_or_404(facility_id)
        change = _change_or_404(facility, change_id)
        taken = withdraw_change(change=change, reason=reason_of(request), by=self.actor.name, now=self.now)
        return Response(shapes.answer(taken))


def _value(component: Component | None, field: str, value: Any) -> Any:
    """The value, held to the same strict types as in the register."""
    column = changeable_field(component, field)
    try:
        return field_for(column).run_validation(value)
    except ValidationError as error:
        raise ValidationError({"value": error.detail}) from error


def _change_or_404(facility: Facility, change_id: str) -> Change:
    named = shapes.split_id(change_id)
    if named is None:
        raise Http404
    model, number = named
    found = model._default_manager.filter(facility=facility, pk=number).select_related("component").first()
    if found is None:
        raise Http404
    return found

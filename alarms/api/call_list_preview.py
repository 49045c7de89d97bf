"""A dry run of a call list."""

from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.call_lists import DOCK, RecipientOut
from alarms.conditions import Priority
from alarms.reach import Why
from alarms.services.dry_runs import REPEATS_SHOWN, Clock, preview
from equipment.api.fields import InstantField
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import ListedField
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right

MAX_REPEATS = 200


class PreviewQuery(StrictQuery):
    """Which alarm to think of."""

    raised_at = InstantField(required=False, help_text="when it would reach us; left out: now")
    priority = ListedField(
        choices=[(one.value, one.value) for one in Priority], required=False, default=Priority.HIGH.value
    )
    repeats = serializers.IntegerField(
        required=False,
        default=REPEATS_SHOWN,
        min_value=0,
        max_value=MAX_REPEATS,
        help_text="how many calls after the last step to show: others may be reachable then",
    )
    clock_from = InstantField(
        required=False, help_text="with `clock_until`: a clock of the law that runs since then"
    )
    clock_until = InstantField(
        required=False, help_text="its end; it calls whether or not somebody acknowledged"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A clock has both ends."""
        for one, other in (("clock_from", "clock_until"), ("clock_until", "clock_from")):
            if one in attrs and other not in attrs:
                raise serializers.ValidationError({other: f"State it too, or leave {one} out."})
        return attrs


class PassedOverOut(StrictSerializer):
    """Somebody who is listed and would not be told."""

    recipient = RecipientOut()
    why = serializers.ChoiceField(choices=[(one.value, one.value) for one in Why])
    note = serializers.CharField()


class CallOut(StrictSerializer):
    """One call that would be made."""

    about = serializers.ChoiceField(
        choices=["alarm", "clock"],
        help_text="alarm: until somebody acknowledges; clock: of the law, acknowledged or not",
    )
    number = serializers.IntegerField(
        source="call.number",
        help_text="alarm: the step, and on after the last; clock: 1 half, 2 three quarters, 3 all of it is over",
    )
    at = serializers.DateTimeField(source="call.due_at")
    at_local = serializers.SerializerMethodField(help_text="in the facility's zone, with its abbreviation")
    recipients = RecipientOut(source="call.recipients", many=True)
    passed_over = PassedOverOut(source="call.passed_over", many=True)
    fallback = serializers.BooleanField(
        source="call.fallback", help_text="the operator's fallback people are among them, beyond the list"
    )

    def get_at_local(self, foreseen: Any) -> str:
        """As people at the site read it."""
        return f"{foreseen.call.due_at.astimezone(self.context['zone']):%Y-%m-%d %H:%M %Z}"


class PreviewOut(StrictSerializer):
    """Who would be told when, if nobody answered: every step and the first repeats of the last."""

    calls = CallOut(many=True)
    repeat_minutes = serializers.IntegerField(allow_null=True, help_text="the last call again, this often")
    remarks = serializers.ListField(child=serializers.CharField())


FORESEEN = {
    "calls": [
        {
            "about": "alarm",
            "number": 1,
            "at": "2026-03-04T15:00:00Z",
            "at_local": "2026-03-04 10:00 EST",
            "recipients": [DOCK],
            "passed_over": [],
            "fallback": False,
        }
    ],
    "repeat_minutes": 30,
    "remarks": [],
}


class CallListPreview(ScopedView):
    """What the call list would do."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PreviewQuery

    @extend_schema(
        operation_id="preview_call_list",
        tags=["alarms"],
        summary="Who would be told when about an alarm that nobody answers",
        parameters=[PreviewQuery],
        responses={200: PreviewOut, **problem_responses(404, 422)},
        examples=[OpenApiExample("the first call", value=FORESEEN, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """A dry run: nobody is told and nothing is stored."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        clock = Clock(asked["clock_from"], asked["clock_until"]) if "clock_from" in asked else None
        shown = preview(
            facility=facility,
            raised_at=asked.get("raised_at", self.now),
            priority=asked["priority"],
            clock=clock,
            repeats=asked["repeats"],
        )
        return Response(PreviewOut(shown, context={"zone": ZoneInfo(facility.time_zone)}).data)

"""Answers an alarm."""

from dataclasses import replace
from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import ALARM_EXAMPLE, AlarmOut, AlarmView
from alarms.services.answering import acknowledge
from equipment.api.scalars import TextField
from equipment.api.schema import body_problems
from equipment.api.serializers import StrictSerializer
from equipment.tenancy import Right


class AcknowledgementIn(StrictSerializer):
    """What whoever answers wants to say."""

    note = TextField(required=False, allow_null=True, max_length=2000, help_text="what is being done")


class AcknowledgementOut(StrictSerializer):
    """The acknowledgement that counts, and the alarm as it stands."""

    first = serializers.BooleanField(help_text="false: it had been acknowledged before, and that stands")
    acknowledged_at = serializers.DateTimeField(source="alarm.acknowledged_at")
    acknowledged_by = serializers.CharField(source="alarm.acknowledged_by")
    acknowledged_note = serializers.CharField(source="alarm.acknowledged_note", allow_null=True)
    alarm = AlarmOut()


ANSWERED = {
    "state": "acknowledged",
    "acknowledged_at": "2026-03-04T15:04:00Z",
    "acknowledged_by": "dock office",
    "acknowledged_note": "On my way, pump is off.",
    "next_step_at": None,
}
EXAMPLE = OpenApiExample(
    "the first answer",
    value={
        "first": True,
        "acknowledged_at": ANSWERED["acknowledged_at"],
        "acknowledged_by": ANSWERED["acknowledged_by"],
        "acknowledged_note": ANSWERED["acknowledged_note"],
        "alarm": {**ALARM_EXAMPLE.value, **ANSWERED},
    },
    response_only=True,
)


class AcknowledgementOfAlarm(AlarmView):
    """The one acknowledgement of an alarm."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="acknowledge_alarm",
        tags=["alarms"],
        summary="Acknowledge an alarm: the first one counts and stops the calls",
        description=(
            "Sent again, or by somebody else, it changes nothing and answers 200 with the first. "
            "It is operational only and answers no duty to report. While a function check goes on that raised the "
            "alarm, it answers 409: what still stands at its end is real and calls people."
        ),
        request=AcknowledgementIn,
        responses={201: AcknowledgementOut, 200: AcknowledgementOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("with a note", value={"note": "On my way, pump is off."}, request_only=True),
            EXAMPLE,
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """201 when this made it, 200 when it stood already."""
        alarm = self.alarm_or_404(alarm_id)
        body = AcknowledgementIn(data=request.data)
        body.is_valid(raise_exception=True)
        note = body.validated_data.get("note") or None
        outcome = acknowledge(alarm=alarm, by=self.actor.name, note=note, now=self.now)
        shown = replace(outcome, alarm=self.alarm_or_404(outcome.alarm.pk))
        return Response(AcknowledgementOut(shown).data, status=201 if outcome.first else 200)

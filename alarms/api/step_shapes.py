"""What is sent and shown of the steps that people take with an alarm."""

from drf_spectacular.utils import OpenApiExample
from rest_framework import serializers

from alarms.api.alarms import ALARM_EXAMPLE
from alarms.lifecycle import ACTS
from equipment.api.fields import InstantField
from equipment.api.scalars import IdField, TextField
from equipment.api.serializers import StrictSerializer


class ShelvingIn(StrictSerializer):
    """Why the alarm is kept quiet, and until when."""

    reason = TextField(max_length=2000)
    until = InstantField(help_text="it comes back by itself then, at the latest")


class OutOfServiceIn(StrictSerializer):
    """Why the equipment is taken out of service."""

    reason = TextField(max_length=2000)


class ReturnIn(StrictSerializer):
    """What put the equipment right."""

    record = IdField(help_text="number of the record of the repair")
    note = TextField(required=False, allow_null=True, max_length=2000)


class ResetIn(StrictSerializer):
    """What was found."""

    found = TextField(max_length=2000, help_text="what was looked at, and what it was")


class EndOfShelvingIn(StrictSerializer):
    """What whoever ends the shelving wants to say."""

    note = TextField(required=False, allow_null=True, max_length=2000)


class AlarmStepOut(StrictSerializer):
    """A step that somebody took."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=[str(one) for one in ACTS])
    at = serializers.DateTimeField(help_text="when it was taken")
    through = serializers.DateTimeField(
        help_text="when it counts among the messages: later than `at` where a device's clock was ahead"
    )
    by = serializers.CharField()
    note = serializers.CharField(allow_null=True, help_text="what is being done, why, or what was found")
    until = serializers.DateTimeField(allow_null=True, help_text="end of shelving as stated")
    record = serializers.IntegerField(source="record_id", allow_null=True, help_text="of the repair")
    alarm = serializers.IntegerField(source="alarm_id", help_text="this one, or one that was merged into it")


def after_step(name: str, **changed: object) -> OpenApiExample:
    """The alarm as it stands after a step."""
    answered = {
        "acknowledged_at": "2026-03-04T15:04:00Z",
        "acknowledged_by": "dock office",
        "acknowledged_note": "A float that sticks; its replacement comes today.",
        "next_step_at": None,
    }
    return OpenApiExample(name, value={**ALARM_EXAMPLE.value, **answered, **changed}, response_only=True)


STEP = {
    "id": 31,
    "kind": "shelve",
    "at": "2026-03-04T15:04:00Z",
    "through": "2026-03-04T15:04:00Z",
    "by": "dock office",
    "note": "A float that sticks; its replacement comes today.",
    "until": "2026-03-04T21:00:00Z",
    "record": None,
    "alarm": 12,
}

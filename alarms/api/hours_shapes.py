"""Weekly hours and calendars of holidays, as they are stated and shown."""

import re
from datetime import time
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from alarms.hours import Calendar, Hours, Span, Weekday, problem_of
from alarms.local_times import is_zone
from equipment.api.scalars import TextField, WordField
from equipment.api.serializers import StrictSerializer

MAX_SPANS = 28
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


@extend_schema_field({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$", "example": "07:00"})
class ClockField(serializers.Field[time, str, str, Any]):
    """A clock time of a place, hours and minutes."""

    default_error_messages = {
        "invalid": "Write hours and minutes of a 24-hour clock in quotes: 07:00, 19:30."
    }

    def to_internal_value(self, data: Any) -> time:
        """The time; ValidationError with the mend otherwise."""
        if not isinstance(data, str) or not _CLOCK.fullmatch(data):
            self.fail("invalid")
        return time.fromisoformat(data)

    def to_representation(self, value: time) -> str:
        """Hours and minutes."""
        return f"{value:%H:%M}"


class ZoneField(TextField):
    """A name of the tz database."""

    default_error_messages = {"unknown_zone": "No such time zone; write a name like America/New_York."}

    def to_internal_value(self, data: Any) -> str:
        """The name; ValidationError where the tz database has none."""
        name = super().to_internal_value(data)
        if not is_zone(name):
            self.fail("unknown_zone")
        return name


class SpanShape(StrictSerializer):
    """On these days from a time (inclusive) to another (exclusive); one that is not later means the next day."""

    days = serializers.ListField(
        child=WordField(choices=[(one.value, one.value) for one in Weekday]), min_length=1, max_length=7
    )
    begins = ClockField()
    ends = ClockField(help_text="not later than `begins`: on the day after")


class CalendarShape(StrictSerializer):
    """Public holidays of a country or of a part of it, observed days included."""

    country = TextField(max_length=2, help_text="ISO 3166-1, two letters")
    subdivision = TextField(required=False, allow_null=True, default=None, max_length=10, help_text="NY")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse codes that no calendar is known for."""
        country, part = attrs["country"], attrs.get("subdivision")
        if problem := problem_of(country, None):
            raise serializers.ValidationError({"country": problem})
        if problem := problem_of(country, part):
            raise serializers.ValidationError({"subdivision": problem})
        return attrs


class HoursShape(StrictSerializer):
    """When somebody can be reached. Outside of it they are passed over, and the next people are called."""

    spans = serializers.ListField(child=SpanShape(), min_length=1, max_length=MAX_SPANS)
    closed_on = CalendarShape(
        required=False, allow_null=True, default=None, help_text="a span that begins on a holiday is off"
    )
    time_zone = ZoneField(
        required=False,
        allow_null=True,
        default=None,
        max_length=50,
        help_text="null: the person's, else the facility's",
    )


def hours_of(checked: dict[str, Any] | None) -> Hours | None:
    """The hours that a checked body states."""
    if checked is None:
        return None
    closed_on = checked.get("closed_on")
    return Hours(
        spans=tuple(
            Span(days=tuple(Weekday(day) for day in one["days"]), begins=one["begins"], ends=one["ends"])
            for one in checked["spans"]
        ),
        closed_on=Calendar(**closed_on) if closed_on else None,
        time_zone=checked.get("time_zone"),
    )


OFFICE_HOURS = {
    "spans": [
        {"days": ["monday", "tuesday", "wednesday", "thursday", "friday"], "begins": "07:00", "ends": "17:00"}
    ],
    "closed_on": {"country": "US", "subdivision": "NY"},
    "time_zone": None,
}

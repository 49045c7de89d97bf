"""Serializer fields that the whole API shares."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from equipment.moments import FIRST_YEAR, LAST_YEAR, Moment, read_moment


@extend_schema_field(
    {
        "type": "string",
        "description": "A local day (2026-02-27) or an instant with offset (2026-02-27T14:05:00-05:00).",
        "anyOf": [{"format": "date"}, {"format": "date-time"}],
        "example": "2026-02-27T14:05:00-05:00",
    }
)
class MomentField(serializers.Field[Moment, str, str, Any]):
    """A whole local day or an instant; a clock time without offset is refused, since hours count."""

    default_error_messages = {
        "unreadable": "Write 2026-02-27, or 2026-02-27T14:05:00-05:00 ({why}).",
        "not_text": "Write the moment as a text.",
    }

    def to_internal_value(self, data: Any) -> Moment:
        """The moment; ValidationError with the mend otherwise."""
        if not isinstance(data, str):
            self.fail("not_text")
        try:
            return read_moment(data)
        except ValueError as error:
            self.fail("unreadable", why=str(error))

    def to_representation(self, value: Moment) -> str:
        """ISO 8601."""
        return str(value)


class InstantField(serializers.DateTimeField):
    """An instant; refused without an offset, answered in UTC."""

    default_error_messages = {
        "no_offset": "A clock time needs an offset: 2026-02-27T14:05:00-05:00.",
        "out_of_calendar": "Lies outside the years 1 to 9999 in UTC.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(default_timezone=ZoneInfo("UTC"), **kwargs)

    def enforce_timezone(self, value: datetime) -> datetime:
        """Refuse a naive time instead of guessing a zone for it."""
        if value.tzinfo is None:
            self.fail("no_offset")
        try:
            return value.astimezone(ZoneInfo("UTC"))
        except OverflowError:
            self.fail("out_of_calendar")


@extend_schema_field(OpenApiTypes.DATE)
class DayField(serializers.DateField):
    """A whole local day at the facility; an instant is refused."""

    default_error_messages = {"out_of_calendar": "Years {first} to {last} are read; check it."}

    def to_internal_value(self, value: Any) -> date:
        """The day; one that no register can mean is a slip of the finger."""
        if isinstance(value, str) and len(value) != len("2026-02-27"):
            self.fail("invalid", format="YYYY-MM-DD")
        day = super().to_internal_value(value)
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            self.fail("out_of_calendar", first=FIRST_YEAR, last=LAST_YEAR)
        return day

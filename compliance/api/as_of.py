"""How a request names another moment, and whose knowledge counts there."""

from datetime import date, datetime
from typing import Any

from rest_framework import serializers

from compliance.rules.look_back import days_back
from compliance.rules.moments import LATEST_YEAR
from compliance.services.as_of import AsOf
from equipment.api.fields import MomentField
from equipment.api.query_strings import StrictQuery
from equipment.moments import Moment

AS_OF = (
    "Judged for that moment on the fly, from facts recorded by then and by the rules then in force; a day means its "
    "last instant. The register (what is there) is taken as it is today."
)
KNOWN = "`then`: facts recorded by that moment; `today`: whether it was really met then, by all that is on file today"


class JudgedMomentField(MomentField):
    """A day or an instant that rules can be judged for."""

    default_error_messages = {"too_far": f"Years up to {LATEST_YEAR} are judged."}

    def to_internal_value(self, data: Any) -> Moment:
        """The moment, within the years that the engine reckons in."""
        moment = super().to_internal_value(data)
        if as_date(moment).year >= LATEST_YEAR:
            self.fail("too_far")
        return moment


class LookBackField(serializers.CharField):
    """Such as 12m, 400d or 5y."""

    def to_internal_value(self, data: Any) -> str:
        """The text, if it can be read."""
        text = super().to_internal_value(data)
        try:
            days_back(text, date(2000, 1, 1))
        except ValueError as error:
            raise serializers.ValidationError(str(error), code="unreadable") from error
        return text


class KnownQuery(StrictQuery):
    """Whose knowledge counts."""

    known = serializers.ChoiceField(["then", "today"], default="then", help_text=KNOWN)


class AsOfQuery(KnownQuery):
    """Another moment than now."""

    as_of = JudgedMomentField(required=False, help_text=AS_OF)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Whose knowledge counts is asked of another moment only."""
        if "as_of" not in attrs and "known" in self.initial_data:
            raise serializers.ValidationError({"known": "Name the moment as well: as_of."})
        return attrs


def as_date(moment: Moment) -> date | datetime:
    """The day, or the instant."""
    found = moment.instant or moment.day
    assert found is not None
    return found


def as_of_asked(asked: dict[str, Any]) -> AsOf | None:
    """The moment asked for; None: now, as last judged."""
    moment = asked.get("as_of")
    return None if moment is None else AsOf(as_date(moment), asked["known"])

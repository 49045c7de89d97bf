"""What was late at a facility, and what an inspector would have found there on a day. Nothing is stored."""

from datetime import date

from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError
from compliance.rules.history import Late, late_history
from compliance.rules.inspecting import Inspection, inspect
from compliance.rules.look_back import days_back
from compliance.services.as_of import AsOf, cannot_judge, document_as_of
from equipment.models import Facility


def late_at(
    facility: Facility, as_of: AsOf, *, since: date, rule: str | None = None, subject: str | None = None
) -> list[Late]:
    """Every delay that had not ended before `since`, as seen at the moment."""
    document = document_as_of(facility, as_of)
    try:
        return late_history(
            document,
            installed_packs(),
            since=since,
            until=as_of.instant(facility),
            known_at=as_of.known_at(facility),
            rule=rule,
            subject=subject,
        )
    except DocumentError as error:
        cannot_judge(error)


def inspection_of(facility: Facility, as_of: AsOf, *, look_back: str) -> Inspection:
    """The facility as it was on the day. `look_back` as in `days_back`, which raises ValueError."""
    day = as_of.day(facility)
    then = document_as_of(facility, as_of)
    today = document_as_of(facility, AsOf(as_of.moment, "today")) if as_of.known == "then" else then
    try:
        return inspect(
            then,
            today,
            installed_packs(),
            on=as_of.instant(facility),
            look_back_days=days_back(look_back, day),
        )
    except DocumentError as error:
        cannot_judge(error)

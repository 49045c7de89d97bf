"""What a record may say it answers: an alarm, another record, a paper, a plan - of the same facility."""

from collections import defaultdict
from collections.abc import Collection, Mapping

from django.db.models import Model

from alarms.models import Alarm
from equipment.models import (
    AgencyFinding,
    Delivery,
    Designation,
    Document,
    Facility,
    Plan,
    Record,
    Release,
    SiteEvent,
    Spill,
)

REFERABLE: Mapping[str, type[Model]] = {
    "alarm": Alarm,
    "record": Record,
    "spill": Spill,
    "release": Release,
    "document": Document,
    "plan": Plan,
    "finding": AgencyFinding,
    "event": SiteEvent,
    "delivery": Delivery,
    "designation": Designation,
}
MAX_DIGITS = 18


def known_references(facility: Facility, references: Collection[str]) -> set[str]:
    """Those of the references that name something at this facility; one query a word that occurs."""
    numbers: dict[str, set[int]] = defaultdict(set)
    for reference in references:
        word, _, number = reference.partition(":")
        if word in REFERABLE and number.isascii() and number.isdigit() and len(number) <= MAX_DIGITS:
            numbers[word].add(int(number))
    found: set[str] = set()
    for word, wanted in numbers.items():
        rows = REFERABLE[word]._default_manager.filter(facility=facility, pk__in=wanted)
        found |= {f"{word}:{pk}" for pk in rows.values_list("pk", flat=True)}
    return found

"""The page behind a mail that several alarms share: which they are, and which of them may be answered in one press."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from alarms.conditions import STARTS_NO_CLOCK, Priority
from alarms.models import Alarm, Digest, Notice
from alarms.services.answering import acknowledge
from alarms.services.digest_mail import Entry, entry_of
from alarms.services.exercise_marks import is_exercised
from alarms.services.links import LinkInvalid, digest_of_link
from alarms.services.parcels import most_urgent_first
from alarms.tenancy import facilities_open_to
from equipment.tenancy import Right


@dataclass(frozen=True)
class Line:
    """An alarm on the page."""

    entry: Entry
    may_answer: bool

    @property
    def waits(self) -> bool:
        """Whether nobody has acknowledged it yet."""
        return self.entry.alarm.acknowledged_at is None

    @property
    def exercised(self) -> bool:
        """Whether a function check that goes on raised it: then nobody answers it yet."""
        return is_exercised(self.entry.alarm)

    @property
    def alike(self) -> bool:
        """Whether it may be answered together with others: not if it is urgent or may be a release (of unknown class
        too), since whoever presses once for forty has not read forty."""
        alarm = self.entry.alarm
        return (
            self.waits
            and self.may_answer
            and not self.exercised
            and alarm.priority != Priority.HIGH
            and alarm.condition_class in STARTS_NO_CLOCK
        )


@dataclass(frozen=True)
class OpenedList:
    """A link that is good: the alarms of its mail that its person's organisation may still see."""

    lines: list[Line]
    person: str

    @property
    def alike(self) -> list[Line]:
        """What one press may answer."""
        return [line for line in self.lines if line.alike]


def open_list(token: str, *, now: datetime) -> OpenedList:
    """Raises `LinkInvalid`, also when nothing is left that the person's organisation may see."""
    digest = Digest.objects.filter(pk=digest_of_link(token)).first()
    if digest is None:
        raise LinkInvalid
    notices = list(most_urgent_first(Notice.objects.filter(digest=digest)))
    alarms = _alarms(notices)
    sites = {alarm.facility_id for alarm in alarms.values()}
    seen = facilities_open_to(digest.organisation_id, Right.READ, sites, now=now)
    answering = facilities_open_to(digest.organisation_id, Right.ANSWER, sites, now=now)
    lines = {
        alarm.pk: Line(entry_of(one, alarm), alarm.facility_id in answering)
        for one in notices
        if (alarm := alarms.get(one.alarm_id or 0)) is not None and alarm.facility_id in seen
    }
    if not lines:
        raise LinkInvalid
    first = notices[0]
    return OpenedList(list(lines.values()), f"{first.name} ({first.email}), by the link in the mail")


def acknowledge_listed(opened: OpenedList, lines: Collection[Line], *, now: datetime) -> None:
    """Acknowledge these lines in the name of the link's person. Each stands by itself."""
    for line in lines:
        acknowledge(alarm=line.entry.alarm, by=opened.person, note=None, now=now)


def _alarms(notices: Collection[Notice]) -> dict[int, Alarm]:
    ids = [one.alarm_id for one in notices if one.alarm_id is not None]
    parts = ("facility", "component", "exercise")
    found = Alarm.objects.select_related(*parts, *(f"merged_into__{part}" for part in parts))
    return {pk: alarm.whole for pk, alarm in found.in_bulk(ids).items()}

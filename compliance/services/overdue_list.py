"""What is overdue, failed or without a record at the facilities of a person, as a mail lists it."""

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from django.db.models.fields.json import KeyTextTransform

from alarms.services.mail import local
from compliance.models import Obligation, Standing, StandingWord
from compliance.rules.tables import USUAL_PARTY
from equipment.models import Facility

TOLD = (StandingWord.FAILED, StandingWord.OVERDUE, StandingWord.NO_RECORD)
# Beyond so many lines the remaining sites are told by their counts: a phone shows no more, and no site is left out
# (common practice, no source).
MAX_LINES = 1000


@dataclass(frozen=True)
class Line:
    """One duty at one or several subjects of a site, all of them with the same standing and due moment."""

    standing: str
    title: str
    task: str
    subjects: tuple[str, ...]
    due: str
    cite: str


@dataclass(frozen=True)
class Site:
    """A site with what is open there; `lines` empty where only the count is told. `unjudged_since`: its state could not
    be worked out anew, so what is listed is that of this moment, or (empty text) was never judged."""

    name: str
    place: str
    count: int
    lines: tuple[Line, ...]
    unjudged_since: str | None


@dataclass(frozen=True)
class OverdueList:
    """Everything for one person, the worst site first."""

    sites: tuple[Site, ...]
    fingerprint: str

    @property
    def count(self) -> int:
        """How many obligations."""
        return sum(site.count for site in self.sites)


@dataclass(frozen=True)
class Open:
    """What is open, by facility: obligations, and standings that could not be judged."""

    facilities: Mapping[int, Facility]
    obligations: Mapping[int, list[Obligation]]
    unjudged: Mapping[int, Standing]


def open_at(facility_ids: Collection[int]) -> Open:
    """Read once for many people; three queries."""
    obligations: dict[int, list[Obligation]] = {}
    rows = Obligation.objects.filter(facility__in=facility_ids, standing__in=TOLD).defer("finding")
    rows = rows.annotate(task=KeyTextTransform("task", "finding"))
    for row in rows.order_by("facility", "title", "subject", "pk"):
        obligations.setdefault(row.facility_id, []).append(row)
    unjudged = Standing.objects.filter(facility__in=facility_ids).exclude(last_error="").in_bulk()
    facilities = Facility.objects.in_bulk({*obligations, *unjudged})
    return Open(facilities, obligations, unjudged)


def overdue_list(found: Open, facility_ids: Iterable[int]) -> OverdueList:
    """The list for somebody whose business these facilities are.

    Days late are no part of the fingerprint: else every day would be a change.
    """
    mine = sorted({*facility_ids} & {*found.obligations, *found.unjudged}, key=lambda pk: _rank(found, pk))
    digest = hashlib.sha256()
    sites: list[Site] = []
    room = MAX_LINES
    for pk in mine:
        rows = found.obligations.get(pk, [])
        lines = _lines(rows, ZoneInfo(found.facilities[pk].time_zone))
        shown = lines if len(lines) <= room else ()
        room -= len(shown)
        sites.append(_site(found, pk, len(rows), shown))
        for row in sorted(rows, key=lambda one: (one.rule, one.subject, one.party)):
            digest.update(f"{pk}|{row.rule}|{row.subject}|{row.party}|{row.standing}|".encode())
            digest.update(f"{row.due_on}|{row.due_at and row.due_at.isoformat()}\n".encode())
        if pk in found.unjudged:
            digest.update(f"{pk}|not judged\n".encode())
    return OverdueList(tuple(sites), digest.hexdigest())


def _rank(found: Open, pk: int) -> tuple[int, int, int]:
    """Sites that nobody could judge first, then by the worst standing and by how much is open."""
    rows = found.obligations.get(pk, [])
    worst = min((TOLD.index(StandingWord(row.standing)) for row in rows), default=len(TOLD))
    return (0 if pk in found.unjudged else 1 + worst, -len(rows), pk)


def _site(found: Open, pk: int, count: int, lines: tuple[Line, ...]) -> Site:
    facility, standing = found.facilities[pk], found.unjudged.get(pk)
    since = None
    if standing is not None:
        since = local(standing.judged_at, ZoneInfo(facility.time_zone)) if standing.judged_at else ""
    place = [facility.facility_address1, facility.facility_city, facility.facility_state]
    return Site(facility.name, ", ".join(part for part in place if part), count, lines, since)


def _lines(rows: Iterable[Obligation], zone: ZoneInfo) -> tuple[Line, ...]:
    alike: dict[tuple[str, str, str, str, str], list[str]] = {}
    for row in rows:
        task = getattr(row, "task", None) or row.title
        key = (row.standing, row.title, _due(row, zone), row.cite, task)
        usual = row.party in ("", USUAL_PARTY)
        alike.setdefault(key, []).append(row.subject if usual else f"{row.subject} ({row.party})")
    ordered = sorted(alike.items(), key=lambda one: TOLD.index(StandingWord(one[0][0])))
    return tuple(
        Line(standing=key[0], title=key[1], task=key[4], subjects=tuple(subjects), due=key[2], cite=key[3])
        for key, subjects in ordered
    )


def _due(row: Obligation, zone: ZoneInfo) -> str:
    if row.due_at is not None:
        return f"was due {local(row.due_at, zone)}"
    return f"was due {row.due_on:%a %d %b %Y}" if row.due_on is not None else ""

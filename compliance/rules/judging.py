"""Judge a site document: which duties the rules see, where each stands, and when that will change by itself."""

from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

import msgspec

from compliance.rules.document_rows import Document
from compliance.rules.facts import Facts
from compliance.rules.faults import DocumentError, Fault
from compliance.rules.findings import STANDINGS, Finding
from compliance.rules.moments import LocalCalendar, Quantity, Unit, is_instant
from compliance.rules.packset import PackSet
from compliance.rules.pairs import pairs_of
from compliance.rules.view import Trace, View

__all__ = ["STANDINGS", "Finding", "Judgement", "findings_at", "judge"]

DEFAULT_PACK = "us-federal"
LOOK_BACK_DAYS = 5 * 365 + 2


class Judgement(msgspec.Struct, frozen=True):
    """`at`: the judged instant (UTC). `packs`: those that applied, widest first. `digest`: of the loaded packs.

    `changes_at`: the first instant (UTC) at which any finding would change if no new fact came in; None: never. The
    count of days late, and findings that are not required, do not count as a change.
    """

    at: datetime
    packs: tuple[str, ...]
    digest: str
    findings: list[Finding]
    changes_at: datetime | None


def judge(
    document: Document,
    packs: PackSet,
    *,
    at: date | datetime,
    known_at: date | datetime | None = None,
    look_back_days: int = LOOK_BACK_DAYS,
    include_not_required: bool = False,
    jurisdictions: Sequence[str] | None = None,
) -> Judgement:
    """Judge the facility for the moment `at`: later deeds do not exist yet.

    A bare day means its last instant, so all that was done on it counts; an instant without offset is local time.
    `known_at` leaves out records that were recorded after it. Late intervals that ended within `look_back_days` are
    kept. The packs that apply are `jurisdictions`, else those the facility states; where it states none, "us-federal"
    if that pack is loaded. Raises `DocumentError` if a pack is not loaded, or an agency's override fits no rule.
    """
    facts, moment, names = _framed(document, packs, at, known_at, jurisdictions)
    findings: list[Finding] = []
    changes_at = None if jurisdictions is not None else _packs_change(facts, packs, moment, names)
    look_back = Quantity(look_back_days, Unit.DAY)
    for pair in pairs_of(facts, packs, names, look_back, everything=include_not_required):
        judged = pair.judged(moment)
        findings += judged.findings if include_not_required else judged.required
        changes_at = pair.next_change(moment, judged, before=changes_at)
    return Judgement(moment, names, packs.digest, findings, changes_at)


def findings_at(
    document: Document,
    packs: PackSet,
    *,
    at: date | datetime,
    known_at: date | datetime | None = None,
    look_back_days: int = LOOK_BACK_DAYS,
    include_not_required: bool = False,
    jurisdictions: Sequence[str] | None = None,
) -> list[Finding]:
    """The findings of `judge`, without looking ahead to `changes_at`."""
    facts, moment, names = _framed(document, packs, at, known_at, jurisdictions)
    look_back = Quantity(look_back_days, Unit.DAY)
    pairs = pairs_of(facts, packs, names, look_back, everything=include_not_required)
    each = (pair.judged(moment) for pair in pairs)
    return [
        found for judged in each for found in (judged.findings if include_not_required else judged.required)
    ]


def _framed(
    document: Document,
    packs: PackSet,
    at: date | datetime,
    known_at: date | datetime | None,
    jurisdictions: Sequence[str] | None,
) -> tuple[Facts, datetime, tuple[str, ...]]:
    """The facts, the judged instant and the packs that apply."""
    calendar = LocalCalendar(ZoneInfo(document.facility.time_zone or "UTC"))
    facts = Facts(document, None if known_at is None else judged_instant(known_at, calendar))
    moment = judged_instant(at, calendar)
    return facts, moment, applicable_packs(facts, packs, moment, jurisdictions)


def stated_packs(facts: Facts, packs: PackSet, moment: datetime) -> tuple[str, ...]:
    """The facility's jurisdictions at a moment, widest first; "us-federal" where none are stated and it is loaded."""
    view = View(facts, facts.calendar, moment, moment, Trace())
    stated = view.field(facts.facility, "jurisdictions")
    if isinstance(stated, list) and stated:
        return tuple(str(name) for name in stated)
    if DEFAULT_PACK in packs.names:
        return (DEFAULT_PACK,)
    raise DocumentError(
        [Fault("/facility/jurisdictions", f"is missing; loaded are {', '.join(packs.names)}")]
    )


def applicable_packs(
    facts: Facts, packs: PackSet, moment: datetime, jurisdictions: Sequence[str] | None
) -> tuple[str, ...]:
    """The asked-for packs, else the facility's. Raises `DocumentError` naming one that is not loaded."""
    names = tuple(jurisdictions) if jurisdictions is not None else stated_packs(facts, packs, moment)
    faults = [
        Fault(
            f"/facility/jurisdictions/{index}",
            f"no pack {name!r} is loaded; known are {', '.join(packs.names)}",
        )
        for index, name in enumerate(names)
        if name not in packs.names
    ]
    if faults:
        raise DocumentError(faults)
    return names


def _packs_change(facts: Facts, packs: PackSet, moment: datetime, names: tuple[str, ...]) -> datetime | None:
    """When change rows give the facility other jurisdictions."""
    starts = sorted(entry.start for entry in facts.facility.history.get("jurisdictions", ()))
    return next((at for at in starts if at > moment and stated_packs(facts, packs, at) != names), None)


def judged_instant(moment: date | datetime, calendar: LocalCalendar) -> datetime:
    """The instant a moment stands for: the last of a day, or the instant itself (local if it has no offset)."""
    if is_instant(moment) and moment.tzinfo is None:
        moment = moment.replace(tzinfo=calendar.zone)
    return calendar.end(moment)

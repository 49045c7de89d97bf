"""The standing of a duty that wants cover at every moment: a document in force, a person designated."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from compliance.rules.answers import Answer, undecided
from compliance.rules.applicability import Applicability, State
from compliance.rules.case import Case
from compliance.rules.conditions import Blank
from compliance.rules.evidence import LAST_DAY_FIELDS, Deed, Evidence
from compliance.rules.items import Item
from compliance.rules.moments import LocalCalendar
from compliance.rules.pack import Version
from compliance.rules.sorting import evidence_now
from compliance.rules.timeline import Timeline, timeline
from compliance.rules.walking import Delay

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Cover:
    """Days covered without a gap, both ends inclusive; `last` None: no end is in sight."""

    first: date
    last: date | None
    items: tuple[Item, ...]

    def holds(self, day: date) -> bool:
        return self.first <= day and (self.last is None or day <= self.last)


def cover_answer(case: Case, applies: Applicability, version: Version, target: Item) -> Answer:
    """Judge without and with the unclear rows; only where the two differ is the duty undecided."""
    evidence = _with_last_days(evidence_now(case, target, version, keep_future=True))
    line = timeline(case.rule, case.scope_at)
    sure = _answer(case, applies, version, line, evidence)
    if not evidence.unclear:
        return sure
    perhaps = _answer(case, applies, version, line, evidence.with_unclear(case.calendar))
    same = (sure.standing, sure.due) == (perhaps.standing, perhaps.due)
    return sure if same else undecided(evidence.missing, evidence)


def _with_last_days(evidence: Evidence) -> Evidence:
    """A document whose last day nobody stated is unclear; a designation without one still lasts."""
    endless = [deed for deed in evidence.accepted if deed.item.kind == "document" and _last_day(deed) is None]
    evidence.accepted = [deed for deed in evidence.accepted if deed not in endless]
    evidence.unclear += endless
    evidence.missing += [Blank(deed.item.ref, LAST_DAY_FIELDS["document"]) for deed in endless]
    return evidence


def _last_day(deed: Deed) -> date | None:
    last = deed.item.fields.get(LAST_DAY_FIELDS[deed.item.kind])
    return last if isinstance(last, date) else None


def covers(deeds: Iterable[Deed], calendar: LocalCalendar) -> list[Cover]:
    """Join what overlaps or follows on the next day. `deeds` are in order of their first days."""
    joined: list[Cover] = []
    for deed in deeds:
        first, last = calendar.day(deed.moment), _last_day(deed)
        before = joined[-1] if joined else None
        if before is None or (before.last is not None and first > before.last + ONE_DAY):
            joined.append(Cover(first, last, (deed.item,)))
            continue
        ends = None if before.last is None or last is None else max(before.last, last)
        joined[-1] = Cover(before.first, ends, (*before.items, deed.item))
    return joined


def _answer(
    case: Case, applies: Applicability, version: Version, line: Timeline, evidence: Evidence
) -> Answer:
    joined = covers(evidence.accepted, case.calendar)
    begun = [cover for cover in joined if case.has_come(case.calendar.start(cover.first))]
    base = Answer(
        standing="met", delays=tuple(_gaps(begun, line, case)), not_counted=tuple(evidence.not_counted)
    )
    answer = _by_cover(case, version, line, base, begun)
    return replace(answer, standing="suspended") if applies.state is State.SUSPENDED else answer


def _by_cover(case: Case, version: Version, line: Timeline, base: Answer, begun: list[Cover]) -> Answer:
    if not begun:
        return replace(base, standing="no record")
    newest = begun[-1]
    answer = replace(base, used=newest.items, due=newest.last)
    if newest.last is None:
        return answer
    if case.has_passed(newest.last):
        due = line.settle(newest.last, None)
        lapsed = due is not None and case.has_passed(due)
        return replace(answer, due=due, standing="overdue" if lapsed else "due soon")
    near = case.is_near(newest.last, version.notice)
    return replace(answer, standing="due soon" if near else "met")


def _gaps(begun: list[Cover], line: Timeline, case: Case) -> Iterable[Delay]:
    """Each stretch of uncovered days while the duty was on, as a delay that the next cover ended."""
    for earlier, later in pairwise(begun):
        assert earlier.last is not None
        due = line.settle(earlier.last, None)
        if due is None:
            continue
        in_time = earlier.last + ONE_DAY if due == earlier.last else case.calendar.day(due)
        if later.first > in_time:
            yield Delay(due, later.first, later.first, (later.first - in_time).days)

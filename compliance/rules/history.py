"""What was late in a window of time, and what was on file before and after.

Each pair is judged at the end of the window. Where its duty had ended by then, or cannot be decided, it is judged in
the last moment at which it could be: a delay does not vanish because the tank was closed later.
"""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec

from compliance.rules.answers import called
from compliance.rules.document_rows import Document
from compliance.rules.facts import Facts
from compliance.rules.findings import Finding, LateInterval, written
from compliance.rules.judging import applicable_packs, judged_instant
from compliance.rules.moments import TICK, LocalCalendar, Moment, Quantity, Unit
from compliance.rules.packset import PackSet
from compliance.rules.pairs import Pair, pairs_of

SILENT = ("not required", "cannot decide")
"""Standings that tell of no delay."""
RUNS_LATE = ("overdue", "no record", "failed")
"""Standings under which a due that has passed is still waited for; on hold is not late."""


class Late(msgspec.Struct, frozen=True, kw_only=True):
    """One rule late at one item.

    `done`: what ended it was done then; None: it was not done. `ended`: the local day on which the delay ended, by
    being done or because the duty ended or changed; None: it runs on at the end of the window. `days_late`: local days.
    `before` and `after`: ids of the evidence on file when it fell due, and of what ended the delay.
    """

    rule: str
    pack: str
    title: str
    subject: str
    subject_kind: str
    party: str
    due: Moment
    done: Moment | None
    ended: date | None
    days_late: int
    before: list[str]
    after: list[str]
    cite: str
    verified: str
    sentence: str


def late_history(
    document: Document,
    packs: PackSet,
    *,
    since: date,
    until: date | datetime,
    known_at: date | datetime | None = None,
    rule: str | None = None,
    subject: str | None = None,
    jurisdictions: Sequence[str] | None = None,
) -> list[Late]:
    """Every delay that had not ended before `since`, as seen at the end of `until`; by due, then by rule.

    `known_at` as in judging. Raises `DocumentError` as judging does.
    """
    calendar = LocalCalendar(ZoneInfo(document.facility.time_zone or "UTC"))
    facts = Facts(document, None if known_at is None else judged_instant(known_at, calendar))
    end = judged_instant(until, calendar)
    names = applicable_packs(facts, packs, end, jurisdictions)
    window = Quantity(max(0, calendar.days_between(since, end)), Unit.DAY)
    found: list[Late] = []
    for pair in pairs_of(facts, packs, names, window):
        if rule in (None, pair.rule.id) and subject in (None, pair.item.ref):
            found += _of_pair(pair, since, end)
    return sorted(found, key=lambda late: (calendar.start(late.due), late.rule, late.subject, late.party))


def _of_pair(pair: Pair, since: date, end: datetime) -> Iterator[Late]:
    at = _last_told(pair, since, end)
    for finding in pair.judged(at).required:
        if finding.standing in SILENT:
            continue
        yield from _ended(pair, finding, since)
        due = finding.due
        if finding.standing in RUNS_LATE and due is not None and pair.calendar.after(due) <= at:
            ended = None if at == end else pair.calendar.day(at + TICK)
            days = pair.calendar.days_between(due, ended or at)
            yield _late(pair, finding, LateInterval(due, None, days), ended)


def _last_told(pair: Pair, since: date, end: datetime) -> datetime:
    """The end, or the last moment in the window at which the duty was there and could be decided."""
    at, first = end, pair.calendar.start(since)
    judged = pair.judged(at)
    while all(finding.standing in SILENT for finding in judged.findings):
        turn = max((turn for turn in judged.turns if first < turn <= at), default=None)
        if turn is None:
            return end
        at = turn - TICK
        judged = pair.judged(at)
    return at


def _ended(pair: Pair, finding: Finding, since: date) -> Iterator[Late]:
    for interval in finding.late_intervals:
        calendar = pair.calendar
        ended = (
            calendar.day(interval.due) + timedelta(days=interval.days_late)
            if interval.done is None
            else calendar.day(interval.done)
        )
        if ended >= since:
            yield _late(pair, finding, interval, ended)


def _late(pair: Pair, finding: Finding, interval: LateInterval, ended: date | None) -> Late:
    then = _as_of(pair, finding, pair.calendar.end(interval.due)) or finding
    after = None if interval.done is None else _as_of(pair, finding, pair.calendar.end(interval.done))
    return Late(
        rule=finding.rule,
        pack=finding.pack,
        title=finding.title,
        subject=finding.subject,
        subject_kind=finding.subject_kind,
        party=finding.party,
        due=interval.due,
        done=interval.done,
        ended=ended,
        days_late=interval.days_late,
        before=then.evidence,
        after=[] if after is None else after.evidence,
        cite=then.cite or finding.cite,
        verified=then.verified or finding.verified,
        sentence=_sentence(pair, interval, ended),
    )


def _as_of(pair: Pair, finding: Finding, at: datetime) -> Finding | None:
    """What the same duty of the same party looked like at an earlier moment."""
    return next((one for one in pair.judged(at).findings if one.party == finding.party), None)


def _sentence(pair: Pair, interval: LateInterval, ended: date | None) -> str:
    days = {0: "less than a day", 1: "1 day"}.get(interval.days_late, f"{interval.days_late} days")
    due = f"due {written(interval.due)}"
    if interval.done is not None:
        said = f"{due}, done {written(interval.done)}, {days} late"
    elif ended is not None:
        said = f"{due}, not done by {ended}, {days} later, when the duty ended or could no longer be decided"
    else:
        said = f"{due}, not done, {days} late so far"
    return f"{pair.rule.title} ({called(pair.item)}): {said}."

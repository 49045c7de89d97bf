"""How long the law wants each row kept. An answer deletes nothing: it says what may go if somebody wants it gone.

Several keys of one rule, and several rules: the longest wins. Unknown keeps. A row that no rule names is kept.

The last day of keeping is found as `changes_at` is: the answer is asked for again at each turn of what it read, and the
rule itself is taken as it applies at the judged moment.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cached_property

import msgspec

from compliance.rules.applicability import State, applicability
from compliance.rules.document_rows import Document
from compliance.rules.evidence import MOMENT_FIELDS
from compliance.rules.expressions import as_moment
from compliance.rules.facts import Facts, moment_of
from compliance.rules.judging import applicable_packs, judged_instant
from compliance.rules.moments import TICK
from compliance.rules.pack import Retention
from compliance.rules.packset import PackSet
from compliance.rules.pairs import subjects_of
from compliance.rules.view import ItemScope, Trace, View

KEEP, MAY_GO = "keep", "may go"


class RetentionAnswer(msgspec.Struct, frozen=True):
    """What one rule says of one row: "keep" or "may go".

    `until`: the last local day on which the rule wants it kept, as far as what is on file tells; None: no end is in
    sight (nothing newer, the condition still holds, or nobody stated where the period starts), or it was never wanted.
    """

    rule: str
    pack: str
    title: str
    subject: str
    subject_kind: str
    standing: str
    until: date | None
    cite: str
    verified: str

    @property
    def sentence(self) -> str:
        """Advice in one sentence; never an order to destroy anything."""
        if self.standing == KEEP:
            return f"{self.title}: keep it {f'to {self.until}' if self.until else 'for now; no last day is in sight'}."
        asked = f"it had to be kept to {self.until}" if self.until else "it need not be kept"
        return f"{self.title}: {asked}; as far as this rule goes it may be discarded."


def retention(
    document: Document, packs: PackSet, at: date | datetime, *, jurisdictions: Sequence[str] | None = None
) -> list[RetentionAnswer]:
    """One answer for each retention rule and row it applies to; none about a row that has not begun.

    Raises `DocumentError` as judging does.
    """
    facts = Facts(document)
    moment = judged_instant(at, facts.calendar)
    names = applicable_packs(facts, packs, moment, jurisdictions)
    answers = []
    for rule in packs.for_packs(names):
        if not any(version.retention for version in rule.versions):
            continue
        for item in subjects_of(rule, facts):
            view = View(facts, facts.calendar, moment, moment, Trace())
            if item.begins is not None and view.past(item.begins) is None:
                continue
            scope = ItemScope(view, item, explains=False)
            applies = applicability(rule, scope)
            version = applies.version
            if applies.state is State.OFF or version is None or version.retention is None:
                continue
            period = Period(version.retention, scope)
            unsure = applies.state is State.UNKNOWN
            standing = KEEP if unsure or period.keeps(moment) else MAY_GO
            until = None if unsure else period.last_day(moment)
            about = (rule.id, rule.pack, rule.title, item.ref, item.kind)
            answers.append(RetentionAnswer(*about, standing, until, version.cite, version.verified))
    return answers


@dataclass(frozen=True)
class Period:
    """One wording about one row; `scope` is that of the judged moment and collects the turns."""

    rule: Retention
    scope: ItemScope

    def keeps(self, at: datetime) -> bool:
        """Whether the row is wanted at a moment, as far as is on file."""
        newer = bisect_right(self._newer, at)
        counted = self.rule.count is not None and newer < self.rule.count
        return self._is_young(at) or counted or (self.rule.until_next and newer == 0) or self._is_held(at)

    def last_day(self, at: datetime) -> date | None:
        """The day on which the present keeping ends, or on which the keeping that is over ended."""
        end = self._end_after(at) if self.keeps(at) else self._end_before(at)
        return None if end is None else self.scope.calendar.day(end - TICK)

    def _end_after(self, at: datetime) -> datetime | None:
        while (turn := min((one for one in self._turns() if one > at), default=None)) is not None:
            if not self.keeps(turn):
                return turn
            at = turn
        return None

    def _end_before(self, at: datetime) -> datetime | None:
        begins = self.scope.item.begins
        first = datetime.min.replace(tzinfo=UTC) if begins is None else self.scope.calendar.start(begins)
        at += TICK
        while (turn := max((one for one in self._turns() if first < one < at), default=None)) is not None:
            if self.keeps(turn - TICK):
                return turn
            at = turn
        return None

    def _turns(self) -> set[datetime]:
        """Asked for afresh each time: a look at another moment may read what was not read before."""
        age = () if self._last_of_age is None else (self.scope.calendar.after(self._last_of_age),)
        return {*self.scope.view.trace.turns, *self._newer, *age}

    def _is_held(self, at: datetime) -> bool:
        scope = replace(self.scope, view=replace(self.scope.view, moment=at))
        return self.rule.while_ is not None and self.rule.while_.verdict(scope, scope).truth is not False

    def _is_young(self, at: datetime) -> bool:
        last = self._last_of_age
        return self.rule.age is not None and (last is None or self.scope.calendar.day(at) <= last)

    @cached_property
    def _last_of_age(self) -> date | None:
        """Last day of the period that is counted; None if there is none or nobody stated where it starts."""
        if self.rule.age is None:
            return None
        path = self.rule.since or (MOMENT_FIELDS.get(self.scope.item.kind, "performed_at"),)
        calendar = self.scope.calendar
        start = as_moment(self.scope.read(path), calendar)
        return None if start is None else calendar.day(calendar.shift(start, self.rule.age))

    @cached_property
    def _newer(self) -> list[datetime]:
        """When each newer row of the same activity about the same items began, in order."""
        facts, item = self.scope.view.facts, self.scope.item
        if item.kind != "record" or not (self.rule.until_next or self.rule.count is not None):
            return []
        rows = (row for row in facts.by_activity[str(item.fields["activity"])] if row not in facts.void)
        alike = (moment_of(row, "performed_at") for row in rows if set(row.subjects) >= set(item.subjects))
        ours, calendar = moment_of(item, "performed_at"), self.scope.calendar
        return sorted(calendar.start(theirs) for theirs in alike if calendar.compare(theirs, ours) > 0)

"""Every rule with every item it is about, and the one question that is asked twice: where does it stand at a moment?

`next_change` asks it again at each turn (see `view`), in order, until the answer differs: between turns it cannot,
since every read would give the same value.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property

from compliance.rules.applicability import State, applicability
from compliance.rules.case import Case
from compliance.rules.case_overrides import CaseOverrides
from compliance.rules.duties import judge_case, lacks_entries
from compliance.rules.facts import Facts
from compliance.rules.findings import Finding
from compliance.rules.items import Item
from compliance.rules.kinds import PLACES
from compliance.rules.moments import LocalCalendar, Quantity
from compliance.rules.pack import Rule
from compliance.rules.packset import PackSet
from compliance.rules.record_index import REPORTED
from compliance.rules.view import Trace, View


@dataclass(frozen=True)
class Judged:
    """The findings of one pair at one moment, and the instants at which they may change."""

    findings: list[Finding]
    turns: frozenset[datetime]

    @cached_property
    def required(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.standing != "not required"]

    def same_as(self, other: "Judged") -> bool:
        if len(self.required) != len(other.required):
            return False
        return all(one.same_as(two) for one, two in zip(self.required, other.required, strict=True))


@dataclass(frozen=True)
class Pair:
    rule: Rule
    item: Item
    facts: Facts
    calendar: LocalCalendar
    look_back: Quantity
    everything: bool = True
    """False: what is not required is not even written down."""

    def judged(self, at: datetime) -> Judged:
        """The findings at a moment: none before the item's row begins, one for each entry of a `per` list."""
        trace = Trace()
        view = View(self.facts, self.calendar, at, at, trace)
        begins = self.item.begins
        if self.item.kind not in PLACES and begins is not None and view.past(begins) is None:
            return Judged([], frozenset(trace.turns))
        case = self._case(at)
        applies = applicability(self.rule, case.scope())
        if applies.state is State.OFF and not self.everything:
            return _together([case], [], trace)
        if applies.state is State.OFF or applies.version is None or applies.version.per is None:
            return _together([case], [judge_case(case, applies)], trace)
        entries = [
            entry for entry in _entries(case.scope().read(applies.version.per)) if _is_known(entry, view)
        ]
        if not entries:
            return _together([case], [lacks_entries(case, applies)], trace)
        cases = [self._case(at, entry) for entry in entries]
        findings = [judge_case(case, applicability(self.rule, case.scope())) for case in cases]
        return _together(cases, findings, trace)

    def next_change(self, at: datetime, judged: Judged, before: datetime | None) -> datetime | None:
        """The first instant after `at`, and before `before`, at which the findings differ; else `before`."""
        turns = judged.turns
        while True:
            at = min((turn for turn in turns if turn > at), default=LAST)
            if at == LAST or (before is not None and at >= before):
                return before
            then = self.judged(at)
            if not judged.same_as(then):
                return at
            turns = then.turns

    def _case(self, at: datetime, each: Mapping[str, object] | None = None) -> Case:
        return Case(self.rule, self.item, self.facts, self.calendar, at, self.look_back, each)


LAST = datetime.max.replace(tzinfo=UTC)


def _together(cases: list[Case], findings: list[Finding], trace: Trace) -> Judged:
    return Judged(findings, frozenset(trace.turns.union(*(case.trace.turns for case in cases))))


def _entries(value: object) -> list[Mapping[str, object]]:
    return [entry for entry in value if isinstance(entry, Mapping)] if isinstance(value, list) else []


def _is_known(entry: Mapping[str, object], view: View) -> bool:
    """A party that learns of it later owes nothing yet."""
    return entry.get("at") is None or view.past(entry["at"]) is not None


def pairs_of(
    facts: Facts, packs: PackSet, names: tuple[str, ...], look_back: Quantity, *, everything: bool = True
) -> Iterator[Pair]:
    """Every pair whose rule judges a standing; records by their activity, void and withdrawn rows left out."""
    decisions = CaseOverrides(facts, packs, names)
    calendars = {pack: LocalCalendar(facts.calendar.zone, days) for pack, days in packs.holidays.items()}
    for rule in packs.for_packs(names):
        if all(version.retention is not None for version in rule.versions):
            continue
        calendar = calendars.get(rule.pack, facts.calendar)
        for item in subjects_of(rule, facts):
            decided = decisions.rule_for(rule, item)
            if everything or decided is not rule or not _is_of_no_concern(rule, item):
                yield Pair(decided, item, facts, calendar, look_back, everything)


def _is_of_no_concern(rule: Rule, item: Item) -> bool:
    """A record whose outcome no wording asks for: the rule does not apply to it, now or later.

    One that reported another outcome than counts may be asked for by that.
    """
    if rule.outcomes is None or item.kind != "record" or "outcome" in item.history:
        return False
    if REPORTED in item.fields or REPORTED in item.history:
        return False
    outcome = item.fields.get("outcome")
    return outcome is not None and outcome not in rule.outcomes


def subjects_of(rule: Rule, facts: Facts) -> Iterator[Item]:
    """The items a rule is about, in the order of the document."""
    for kind in sorted(rule.subject):
        if kind == "record" and rule.activities is not None:
            candidates = [
                row for activity in sorted(rule.activities) for row in facts.by_activity.get(activity, ())
            ]
        else:
            candidates = facts.by_kind.get(kind, [])
        yield from (
            item for item in candidates if item not in facts.void and not item.fields.get("withdrawn")
        )

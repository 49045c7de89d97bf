"""Sorting of rows into evidence: ignored, failed, not counted, unclear, accepted.

- Ignored: withdrawn, corrected, in the future of the judged moment, about another item, or not about this duty
  (`where`).
- Failed: a stated fail, whatever `accept` says: a failed test with poor data is still a fail.
- Not counted: `accept` is false, or the outcome is inconclusive, or it was done before this very item was installed (a
  replaced component inherits nothing; the day of installation counts).
- Unclear: something that decides is unknown.
- Accepted: the rest.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property

from compliance.rules.conditions import AllOf, AnyOf, Blank, Condition, Test
from compliance.rules.expressions import Path
from compliance.rules.items import Item
from compliance.rules.moments import LocalCalendar, Moment
from compliance.rules.pack import Source, Version
from compliance.rules.readings import Rank, Reading
from compliance.rules.view import ItemScope

MOMENT_FIELDS = {"record": "performed_at", "document": "issued_on", "designation": "assumed_duties_on"}
LAST_DAY_FIELDS = {"document": "expires_on", "designation": "ended_on"}


@dataclass(frozen=True, slots=True)
class Deed:
    """A row that counts, or may count: when it was done or began, and the row. `fails`: it is, or may be, a fail."""

    moment: Moment
    item: Item
    fails: bool = False


@dataclass(slots=True)
class Evidence:
    """Rows by what they are worth, each list in order of time."""

    accepted: list[Deed] = field(default_factory=list)
    failed: list[Deed] = field(default_factory=list)
    unclear: list[Deed] = field(default_factory=list)
    missing: list[Blank] = field(default_factory=list)
    not_counted: list[tuple[str, str]] = field(default_factory=list)

    def with_unclear(self, calendar: LocalCalendar) -> "Evidence":
        """As if every unclear row were what it may be."""
        passing = [deed for deed in self.unclear if not deed.fails]
        failing = [deed for deed in self.unclear if deed.fails]
        perhaps = Evidence([*self.accepted, *passing], [*self.failed, *failing], [], [], self.not_counted)
        perhaps.sort(calendar)
        return perhaps

    def sort(self, calendar: LocalCalendar) -> None:
        for deeds in (self.accepted, self.failed, self.unclear):
            deeds.sort(key=lambda deed: calendar.start(deed.moment))


@dataclass(frozen=True)
class Sorter:
    """Sorts the rows about `target`. `scope_at` reads the rule's subject at a moment; `wording` chooses the version."""

    target: Item
    scope_at: Callable[[Moment | None], ItemScope]
    wording: Callable[[Moment | None], Version]
    sources: tuple[Source, ...]
    at: datetime
    keep_future: bool = False

    @cached_property
    def now(self) -> ItemScope:
        """The rule's subject at the judged moment."""
        return self.scope_at(None)

    def sort(self) -> Evidence:
        """Read every row that some wording of the rule may take."""
        evidence = Evidence()
        for row in self._rows():
            self._place(row, evidence)
        evidence.sort(self.now.calendar)
        return evidence

    def _rows(self) -> Iterator[Item]:
        facts = self.now.view.facts
        seen: set[Item] = set()
        for source in self.sources:
            for row in _of_sort(source, facts.by_activity, facts.by_kind):
                if row not in seen and row not in facts.void and lies_on(row, self.target, source.level):
                    seen.add(row)
                    yield row

    def _place(self, row: Item, evidence: Evidence) -> None:
        when = row.fields.get(MOMENT_FIELDS[row.kind])
        moment = when if isinstance(when, date) else None
        if moment is not None and not self.keep_future and self.now.view.past(moment) is None:
            return
        reading = self._best(row, moment)
        if reading is None:
            return
        if moment is not None and self._before_installation(moment):
            if self.target in row.subjects:
                evidence.not_counted.append((row.ref, "done before this item was installed"))
        elif reading.rank is Rank.NOT_COUNTED:
            evidence.not_counted.append((row.ref, reading.reason))
        elif reading.rank is Rank.UNCLEAR or moment is None:
            deed = Deed(self.now.view.today if moment is None else moment, row, reading.fails)
            evidence.unclear.append(deed)
            missing = reading.missing if moment is not None else (Blank(row.ref, MOMENT_FIELDS[row.kind]),)
            evidence.missing += [blank for blank in missing if blank not in evidence.missing]
        else:
            accepted = reading.rank is Rank.ACCEPTED
            (evidence.accepted if accepted else evidence.failed).append(Deed(moment, row, not accepted))

    def _best(self, row: Item, moment: Moment | None) -> Reading | None:
        best: Reading | None = None
        for source in self.wording(moment).satisfied_by:
            if takes(source, row) and lies_on(row, self.target, source.level):
                reading = self._read(row, source, moment)
                if reading is not None and (best is None or reading.rank > best.rank):
                    best = reading
        return best

    def _read(self, row: Item, source: Source, moment: Moment | None) -> Reading | None:
        """`read_row`, remembered where it must come to the same for every target and moment."""
        remembered = self.now.view.facts.readings
        key = id(source), row
        if key in remembered:
            return remembered[key][1]
        left = ItemScope(self.now.view, row, explains=False)
        reading = read_row(row, source, left, self.scope_at(moment))
        if source.alone and not row.history:
            remembered[key] = source, reading
        return reading

    def _before_installation(self, moment: Moment) -> bool:
        installed = self.target.fields.get("installed_on")
        if not isinstance(installed, date):
            return False
        return self.now.calendar.compare(moment, installed) < 0


def _of_sort(
    source: Source, by_activity: dict[str, list[Item]], by_kind: dict[str, list[Item]]
) -> Iterator[Item]:
    if source.rows == "record":
        for name in sorted(source.names):
            yield from by_activity.get(name, ())
        return
    for row in by_kind.get(source.rows, ()):
        if not source.names or row.fields.get("type") in source.names:
            yield row


def takes(source: Source, row: Item) -> bool:
    """Is the row of the sort that the entry names?"""
    if row.kind != source.rows:
        return False
    return not source.names or row.fields.get("activity" if row.kind == "record" else "type") in source.names


def lies_on(row: Item, target: Item, level: frozenset[str]) -> bool:
    """Is the row about the target, or recorded on one of its parents where the rule allows that?"""
    if row.kind == "designation":
        return target.kind == "facility" or "facility" in level or row.fields.get("person") == target.ref
    if target in row.subjects:
        return True
    if level:
        for place in target.upwards():
            if place.kind in level and place in row.subjects:
                return True
    return False


def read_row(row: Item, source: Source, left: ItemScope, subject: ItemScope) -> Reading | None:
    """What the row is worth under one entry; None if the entry has nothing to do with it."""
    usable = _truth(source.when, subject, subject)
    identity = _truth(source.where, left, subject)
    if usable[0] is False or identity[0] is False:
        return None
    open_questions = (*usable[1], *identity[1])
    outcome = row.fields.get("outcome") if source.needs_pass else "pass"
    if outcome == "fail":
        return Reading(Rank.UNCLEAR if open_questions else Rank.FAILED, fails=True, missing=open_questions)
    criteria = _truth(source.accept, left, subject)
    if criteria[0] is False:
        return Reading(Rank.NOT_COUNTED, reason=why_false(source.accept, left, subject))
    if outcome == "inconclusive":
        return Reading(Rank.NOT_COUNTED, reason="the outcome is inconclusive")
    missing = (*open_questions, *criteria[1])
    if outcome is None:
        missing = (*missing, *_unknown_outcome(row))
    return Reading(Rank.UNCLEAR, missing=missing) if missing else Reading(Rank.ACCEPTED)


def _unknown_outcome(row: Item) -> tuple[Blank, ...]:
    """The numbers that would tell it, where the row says which; else the outcome itself."""
    lacking = row.fields.get("missing_measurements")
    if not isinstance(lacking, list) or not lacking:
        return (Blank(row.ref, "outcome"),)
    return tuple(Blank(row.ref, f"measurements__{name}") for name in lacking)


def _truth(
    condition: Condition | None, left: ItemScope, subject: ItemScope
) -> tuple[bool | None, tuple[Blank, ...]]:
    if condition is None:
        return True, ()
    truth, missing = condition.verdict(left, subject)
    if truth is None and not missing:
        return None, (Blank(left.item.ref, "measurements"),)
    return truth, missing


def why_false(condition: Condition | None, left: ItemScope, subject: ItemScope) -> str:
    """The comparison that failed, with the value that was read."""
    match condition:
        case AllOf(parts=parts):
            failing = next(part for part in parts if part.verdict(left, subject).truth is False)
            return why_false(failing, left, subject)
        case AnyOf(parts=parts):
            return " and ".join(why_false(part, left, subject) for part in parts)
        case Test(path=("today",)):
            bound = _shown(condition.right.value(subject))
            return (
                f"its time ended with {bound}"
                if condition.lookup in ("lt", "lte")
                else f"its time begins with {bound}"
            )
        case Test(lookup="isnull"):
            return _is_or_is_not_stated(condition, left)
        case Test():
            shown = _shown(left.read(condition.path))
            return f"{_in_words(condition.path)} is {shown}, {_wanted(condition, subject)}"
        case _:
            return ""


def why_true(condition: Condition | None, left: ItemScope, subject: ItemScope) -> str:
    """The comparisons that hold, with the values that were read; of alternatives the first."""
    match condition:
        case AllOf(parts=parts):
            return " and ".join(why_true(part, left, subject) for part in parts)
        case AnyOf(parts=parts):
            holding = next(part for part in parts if part.verdict(left, subject).truth is True)
            return why_true(holding, left, subject)
        case Test(path=("today",)):
            return f"the day is {_shown(left.read(condition.path))}"
        case Test(lookup="isnull"):
            return _is_or_is_not_stated(condition, left)
        case Test():
            return f"{_in_words(condition.path)} is {_shown(left.read(condition.path))}"
        case _:
            return ""


def _is_or_is_not_stated(test: Test, left: ItemScope) -> str:
    return f"{_in_words(test.path)} is {'not ' if left.read(test.path) is None else ''}stated"


def _in_words(path: Path) -> str:
    return "__".join(path).removeprefix("measurements__").replace("__", " ").replace("_", " ")


_WANTED = {"exact": "not", "ne": "which is excluded:", "lt": "not below", "lte": "above", "gt": "not above"}
_WANTED |= {"gte": "below", "in": "not one of", "contains": "without"}


def _wanted(test: Test, subject: ItemScope) -> str:
    return f"{_WANTED[test.lookup]} {_shown(test.right.value(subject))}"


def _shown(value: object) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(_shown(part) for part in value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return "not stated" if value is None else str(value)

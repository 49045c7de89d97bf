"""Conditions over fields, in three-valued logic: true, false, or unknown (None).

A table is AND, a list is OR, a name in a list stands for a named list. A key is a path and a look-up suffix:

    none (equal), ne, lt, lte, gt, gte, in, contains (of a list field), isnull, and `abs` before another suffix.

A right side that begins with "=" is an expression, read on the rule's subject even where the left side is evidence.
Unknown compared with anything is unknown; `isnull` alone is two-valued, since it asks whether we know.
"""

import operator
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple, Protocol

from compliance.rules.expressions import (
    Expression,
    Literal,
    Path,
    Scope,
    as_moment,
    parse_expression,
    parse_path,
)
from compliance.rules.moments import LocalCalendar, Moment

Truth = bool | None


class Blank(NamedTuple):
    """A fact that nobody stated and that would decide: the item it belongs to and the field."""

    subject: str
    field: str


class Verdict(NamedTuple):
    """The truth of a condition and, where it is unknown, the facts that would decide it."""

    truth: Truth
    missing: tuple[Blank, ...] = ()


TRUE, FALSE = Verdict(True), Verdict(False)


class ConditionScope(Scope, Protocol):
    """A scope that can also name what it does not know, and takes note of comparisons with the running day."""

    def blank(self, path: Path) -> Blank:
        """The item and field at which reading the path ends in nothing."""

    def note_today(self, bound: object) -> None:
        """The current day was compared with this moment: the answer may change there."""


class Condition(Protocol):
    def verdict(self, left: ConditionScope, subject: ConditionScope) -> Verdict:
        """Truth with `left` read for the keys and `subject` for the expressions on the right."""

    def tests(self) -> Iterator["Test"]:
        """Every single comparison, in the order written."""


@dataclass(frozen=True, slots=True)
class Test:
    """One comparison. `absolute` compares the number without its sign."""

    __test__ = False  # not a test case, whatever a test runner makes of the name

    path: Path
    lookup: str
    absolute: bool
    right: Expression

    def verdict(self, left: ConditionScope, subject: ConditionScope) -> Verdict:
        value = left.read(self.path)
        right = self.right.value(subject)
        if self.path[-1] == "today":
            left.note_today(right)
        if self.lookup == "isnull":
            return TRUE if (value is None) == right else FALSE
        if self.absolute:
            value = abs(value) if isinstance(value, int | float) else None
        truth = compare(self.lookup, value, right, left.calendar)
        if truth is not None:
            return TRUE if truth else FALSE
        return Verdict(None, tuple(self._blanks(value, left, subject)))

    def _blanks(self, value: object, left: ConditionScope, subject: ConditionScope) -> Iterator[Blank]:
        silent = [path for path in self.right.paths() if subject.read(path) is None]
        if value is None or not silent:
            yield left.blank(self.path)
        yield from (subject.blank(path) for path in silent)

    def tests(self) -> Iterator["Test"]:
        yield self


@dataclass(frozen=True, slots=True)
class AllOf:
    parts: tuple[Condition, ...]

    def verdict(self, left: ConditionScope, subject: ConditionScope) -> Verdict:
        """False as soon as one part is; unknown with every undecided part's facts otherwise."""
        missing: tuple[Blank, ...] = ()
        known = True
        for part in self.parts:
            truth, lacks = part.verdict(left, subject)
            if truth is False:
                return FALSE
            known = known and truth is True
            missing += lacks
        return TRUE if known else Verdict(None, missing)

    def tests(self) -> Iterator[Test]:
        for part in self.parts:
            yield from part.tests()


@dataclass(frozen=True, slots=True)
class AnyOf:
    parts: tuple[Condition, ...]

    def verdict(self, left: ConditionScope, subject: ConditionScope) -> Verdict:
        """True as soon as one part is; unknown with every undecided part's facts otherwise."""
        missing: tuple[Blank, ...] = ()
        known = True
        for part in self.parts:
            truth, lacks = part.verdict(left, subject)
            if truth is True:
                return TRUE
            known = known and truth is False
            missing += lacks
        return FALSE if known else Verdict(None, missing)

    def tests(self) -> Iterator[Test]:
        for part in self.parts:
            yield from part.tests()


_ORDER: dict[str, Callable[[Any, Any], bool]] = {
    "exact": operator.eq,
    "ne": operator.ne,
    "lt": operator.lt,
    "lte": operator.le,
    "gt": operator.gt,
    "gte": operator.ge,
}
LOOKUPS = (*_ORDER, "in", "contains", "isnull")
NUMBERS = {int, float}
"""A truth value is none: `true` is not 1."""


def compare(lookup: str, left: object, right: object, calendar: LocalCalendar) -> Truth:
    """Apply a look-up. None if a side is unknown or the two cannot be compared (a text with a number)."""
    if left is None or right is None:
        return None
    if lookup == "in":
        return _any_equal(left, _listed(right), calendar)
    if lookup == "contains":
        return _any_equal(right, _listed(left), calendar)
    if isinstance(left, date) or isinstance(right, date):
        return _compare_moments(lookup, as_moment(left, calendar), as_moment(right, calendar), calendar)
    return _compare_plain(lookup, left, right)


def _compare_plain(lookup: str, left: object, right: object) -> Truth:
    kinds = {type(left), type(right)}
    comparable = kinds <= NUMBERS or kinds in ({str}, {bool})
    return _ORDER[lookup](left, right) if comparable else None


def _compare_moments(
    lookup: str, left: Moment | None, right: Moment | None, calendar: LocalCalendar
) -> Truth:
    return None if left is None or right is None else _ORDER[lookup](calendar.compare(left, right), 0)


def _listed(value: object) -> tuple[object, ...]:
    return tuple(value) if isinstance(value, list | tuple) else (value,)


def _any_equal(value: object, candidates: tuple[object, ...], calendar: LocalCalendar) -> Truth:
    known = True
    for candidate in candidates:
        truth = compare("exact", value, candidate, calendar)
        if truth:
            return True
        known = known and truth is False
    return False if known else None


def parse_condition(source: object, named: Callable[[str], object]) -> Condition:
    """Parse a table, a list or a name. `named` gives the list behind a name. Raises ValueError."""
    if isinstance(source, str):
        return parse_condition(named(source), named)
    if isinstance(source, Mapping):
        return AllOf(tuple(_parse_test(str(key), right) for key, right in source.items()))
    if isinstance(source, list):
        return AnyOf(tuple(parse_condition(part, named) for part in source))
    raise ValueError(f"expected a table (AND), a list (OR) or the name of a condition, not {source!r}")


def _parse_test(key: str, right: object) -> Test:
    *parts, last = key.split("__")
    lookup = last if last in LOOKUPS else "exact"
    if lookup == "exact":
        parts.append(last)
    absolute = len(parts) > 1 and parts[-1] == "abs"
    path = parse_path("__".join(parts[:-1] if absolute else parts))
    return Test(path, lookup, absolute, _parse_right(key, lookup, right))


def _parse_right(key: str, lookup: str, right: object) -> Expression:
    if lookup == "isnull" and not isinstance(right, bool):
        raise ValueError(f"{key}: isnull is compared with true or false, not {right!r}")
    if lookup == "in" and not isinstance(right, list):
        raise ValueError(f"{key}: `in` is compared with a list, not {right!r}")
    if isinstance(right, Mapping):
        raise ValueError(
            f"{key}: a value, a list or an expression is expected, not a table; hops are written with __"
        )
    if isinstance(right, str) and right.startswith("="):
        return parse_expression(right[1:])
    return Literal(tuple(right) if isinstance(right, list) else right)

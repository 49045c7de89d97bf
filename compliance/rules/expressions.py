"""The small language of moments and numbers that rules are written in, parsed once when a pack is loaded.

    2018-10-13                          a day
    installed_on, tank__installed_on    the value of a field; "on installed_on" reads better and means the same
    30 days after X, 48 hours before X  shifted; nests to the right: "30 days before 12 months after status__since"
    later of X | Y, earlier of X | Y    unknown if any part is
    end of month X                      last day of the month of X
    130 + 0.01 * field                  a sum of products of numbers; no brackets, no division

An expression whose field is unknown is unknown (None). Parameters (`$name`) are put in before parsing, see `compiling`.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from compliance.rules.moments import (
    EARLIEST_YEAR,
    LATEST_YEAR,
    LocalCalendar,
    Moment,
    Quantity,
    end_of_month,
    parse_quantity,
)

Path = tuple[str, ...]
"""The parts of `a__b__c`: fields and hops, read from left to right."""


class Scope(Protocol):
    """What an expression may ask: the fields of one item at one moment."""

    @property
    def calendar(self) -> LocalCalendar: ...

    def read(self, path: Path) -> object:
        """The value; None if unknown."""


class Expression(Protocol):
    """A parsed expression."""

    def value(self, scope: Scope) -> object:
        """The moment, number or text; None if it depends on something unknown."""

    def paths(self) -> Iterator[Path]:
        """Every path it reads."""


def as_moment(value: object, calendar: LocalCalendar) -> Moment | None:
    """The value if it is a moment, or a text that reads as one (measurements carry text); else None."""
    if isinstance(value, str):
        try:
            return calendar.read(value)
        except ValueError:
            return None
    return value if isinstance(value, date) else None


@dataclass(frozen=True, slots=True)
class Literal:
    constant: object

    def value(self, scope: Scope) -> object:
        return self.constant

    def paths(self) -> Iterator[Path]:
        return iter(())


@dataclass(frozen=True, slots=True)
class Field:
    path: Path

    def value(self, scope: Scope) -> object:
        return scope.read(self.path)

    def paths(self) -> Iterator[Path]:
        yield self.path


@dataclass(frozen=True, slots=True)
class Shifted:
    quantity: Quantity
    back: bool
    origin: Expression

    def value(self, scope: Scope) -> object:
        origin = as_moment(self.origin.value(scope), scope.calendar)
        return None if origin is None else scope.calendar.shift(origin, self.quantity, back=self.back)

    def paths(self) -> Iterator[Path]:
        return self.origin.paths()


@dataclass(frozen=True, slots=True)
class Extreme:
    """The later or the earlier of several moments."""

    latest: bool
    parts: tuple[Expression, ...]

    def value(self, scope: Scope) -> object:
        chosen: Moment | None = None
        pick = scope.calendar.later if self.latest else scope.calendar.earlier
        for part in self.parts:
            moment = as_moment(part.value(scope), scope.calendar)
            if moment is None:
                return None
            chosen = moment if chosen is None else pick(chosen, moment)
        return chosen

    def paths(self) -> Iterator[Path]:
        for part in self.parts:
            yield from part.paths()


@dataclass(frozen=True, slots=True)
class EndOfMonth:
    inner: Expression

    def value(self, scope: Scope) -> object:
        moment = as_moment(self.inner.value(scope), scope.calendar)
        return None if moment is None else end_of_month(scope.calendar.day(moment))

    def paths(self) -> Iterator[Path]:
        return self.inner.paths()


@dataclass(frozen=True, slots=True)
class Sum:
    """Products of numbers and fields, added up."""

    products: tuple[tuple[float | Path, ...], ...]

    def value(self, scope: Scope) -> object:
        total = 0.0
        for factors in self.products:
            product = 1.0
            for factor in factors:
                number = scope.read(factor) if isinstance(factor, tuple) else factor
                if isinstance(number, bool) or not isinstance(number, int | float):
                    return None
                product *= number
            total += product
        return total

    def paths(self) -> Iterator[Path]:
        for factors in self.products:
            yield from (factor for factor in factors if isinstance(factor, tuple))


_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_PATH = re.compile(r"[a-z][a-z0-9]*(_{1,2}[a-z0-9]+)*")
_SHIFT = re.compile(r"(\d+ (?:business )?[a-z]+) (after|before) (.+)")
_EXTREME = re.compile(r"(later|earlier) of (.+)")


def parse_path(text: str) -> Path:
    """Split `a__b`. Raises ValueError where it is no path."""
    if not _PATH.fullmatch(text):
        raise ValueError(f"{text!r} is no field path: lower case words joined by __ are expected")
    return tuple(text.split("__"))


def parse_expression(source: object) -> Expression:
    """Parse text, a day or a number as it stands in TOML. Raises ValueError with what was expected."""
    if isinstance(source, datetime):
        raise ValueError(f"a rule names whole days; {source.isoformat()} is an instant")
    if isinstance(source, date):
        return Literal(source)
    if isinstance(source, int | float) and not isinstance(source, bool):
        return Literal(source)
    if not isinstance(source, str) or not source.strip():
        raise ValueError(f'expected an expression such as "30 days after installed_on", not {source!r}')
    return _parse(" ".join(source.split()))


def _parse(text: str) -> Expression:
    if match := _EXTREME.fullmatch(text):
        parts = [part.strip() for part in match[2].split("|")]
        if len(parts) < 2 or any(" of " in f" {part}" and _EXTREME.search(part) for part in parts):
            raise ValueError(f"{text!r}: 'later of' and 'earlier of' take plain parts with | between them")
        return Extreme(match[1] == "later", tuple(_parse(part) for part in parts))
    if match := _SHIFT.fullmatch(text):
        return Shifted(parse_quantity(match[1]), match[2] == "before", _parse(match[3]))
    if text.startswith("end of month "):
        return EndOfMonth(_parse(text.removeprefix("end of month ")))
    return _parse_operand(text.removeprefix("on "))


def _parse_operand(text: str) -> Expression:
    if _DAY.fullmatch(text):
        return Literal(_day(text))
    if " + " in text or " * " in text or _NUMBER.fullmatch(text):
        return Sum(tuple(_product(term) for term in text.split(" + ")))
    return Field(_readable(text))


def _day(text: str) -> date:
    day = date.fromisoformat(text)
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise ValueError(f"the year of {text} is outside {EARLIEST_YEAR} to {LATEST_YEAR}")
    return day


def _product(term: str) -> tuple[float | Path, ...]:
    return tuple(float(part) if _NUMBER.fullmatch(part) else _readable(part) for part in term.split(" * "))


def _readable(text: str) -> Path:
    path = parse_path(text)
    if path[-1] == "today":
        raise ValueError('"today" stands only on the left of a comparison, as in today__lte = "=..."')
    return path


def origin_of(expression: Expression) -> Expression | None:
    """X of `... after X`: the moment before which a deed cannot answer. None for every other shape."""
    if isinstance(expression, Shifted) and not expression.back:
        return origin_of(expression.origin) or expression.origin
    return None

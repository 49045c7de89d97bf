"""The shapes of a schedule, read from the `schedule` table of a version.

`OneOff` answers an event once. The recurring ones (`Rolling`, `Monthly`, `Grid`) have a first due and a next due
after each completion. `Always` wants cover without a gap. What a shape asks of the evidence is in `recurring`.
"""

import re
from dataclasses import dataclass

import msgspec

from compliance.rules.conditions import Condition, parse_condition
from compliance.rules.expressions import Expression, Path, origin_of, parse_expression, parse_path
from compliance.rules.moments import Quantity, parse_quantity


class ScheduleTable(msgspec.Struct, forbid_unknown_fields=True, omit_defaults=True):
    """The keys of `schedule = { ... }` as written."""

    due: object = None
    opens: object = None
    every: object = None
    next: object = None
    first: object = None
    then: list[object] = []
    each: str | None = None
    max_gap: object = None
    anchor: object = None
    rebase_if_early: object = None
    annual_on: object = None
    lead: object = None
    always: bool | None = None
    resume: object = None


@dataclass(frozen=True, slots=True)
class OneOff:
    """Due once. `opens`: accepted evidence counts from here on; None: at any time."""

    due: Expression
    opens: Expression | None


@dataclass(frozen=True, slots=True)
class First:
    """A first due and the condition under which this alternative is the one."""

    when: Condition | None
    due: Expression


@dataclass(frozen=True, slots=True)
class Milestone:
    """A fixed due after the first, answered by a completion of its own that is not before `opens`."""

    due: Expression
    opens: Expression | None


@dataclass(frozen=True, slots=True)
class Rolling:
    """Next due = last completion + `every`, or `next` with `done` for the last completion."""

    every: Quantity | None
    next: Expression | None
    first: tuple[First, ...]
    then: tuple[Milestone, ...]
    resume: Quantity | None


@dataclass(frozen=True, slots=True)
class Monthly:
    """Once in each calendar month, and never more than `max_gap` apart."""

    max_gap: Quantity | None
    first: tuple[First, ...]
    resume: Quantity | None


@dataclass(frozen=True, slots=True)
class YearDay:
    """A civil date in the year, the same for all (`key` None) or from a table by the value of a field."""

    key: Path | None
    table: tuple[tuple[str, tuple[int, int]], ...]

    def month_and_day(self, value: object) -> tuple[int, int] | None:
        """The month and day for the field's value; None if the table does not know it."""
        if self.key is None:
            return self.table[0][1]
        return dict(self.table).get(str(value))


@dataclass(frozen=True, slots=True)
class Grid:
    """Fixed dates: the anchor and every `every` after it, or one civil date a year, `lead` earlier."""

    anchor: Expression | YearDay
    every: Quantity
    rebase_if_early: Quantity | None
    lead: Quantity | None
    resume: Quantity | None


@dataclass(frozen=True, slots=True)
class Always:
    """Covered at every moment, from the first to the last day of each piece of evidence."""


Recurring = Rolling | Monthly | Grid
Schedule = OneOff | Recurring | Always

_ONE_YEAR = parse_quantity("1 year")

_COMPANIONS: dict[str, set[str]] = {
    "always": set(),
    "due": {"opens"},
    "each": {"max_gap", "first", "resume"},
    "annual_on": {"lead", "rebase_if_early", "resume"},
    "anchor": {"every", "rebase_if_early", "lead", "resume"},
    "every": {"first", "then", "resume"},
    "next": {"first", "then", "resume"},
}
"""The keys that say which shape it is, the most telling first, and the keys that go with each."""


def parse_schedule(table: ScheduleTable) -> Schedule:
    """Build the shape. Raises ValueError that names the key."""
    given = {key for key in table.__struct_fields__ if getattr(table, key) not in (None, [])}
    token = next((key for key in _COMPANIONS if key in given), None)
    if token is None:
        raise ValueError(f"one of {', '.join(_COMPANIONS)} is expected")
    stray = sorted(given - {token} - _COMPANIONS[token])
    if stray:
        raise ValueError(f"{', '.join(stray)}: does not go with `{token}`")
    match token:
        case "due":
            return _one_off(table)
        case "always":
            return _always(table)
        case "each":
            return _monthly(table)
        case "anchor" | "annual_on":
            return _grid(table)
        case _:
            return _rolling(table)


def _one_off(table: ScheduleTable) -> OneOff:
    due = parse_expression(table.due)
    return OneOff(due, _opens(table.opens, due))


def _opens(opens: object, due: Expression) -> Expression | None:
    """As written; "any" for none; left out: X of a due `... after X`, since a deed cannot answer what is to come."""
    if opens is None:
        return origin_of(due)
    return None if opens == "any" else parse_expression(opens)


def _always(table: ScheduleTable) -> Always:
    if not table.always:
        raise ValueError("always: only `true` has a meaning; leave the key out otherwise")
    return Always()


def _rolling(table: ScheduleTable) -> Rolling:
    return Rolling(
        every=_quantity("every", table.every),
        next=None if table.next is None else parse_expression(table.next),
        first=_first(table.first),
        then=tuple(_milestone(entry) for entry in table.then),
        resume=_quantity("resume", table.resume),
    )


def _monthly(table: ScheduleTable) -> Monthly:
    if table.each != "calendar month":
        raise ValueError(f'each: only "calendar month" is known, not {table.each!r}')
    return Monthly(
        _quantity("max_gap", table.max_gap), _first(table.first), _quantity("resume", table.resume)
    )


def _grid(table: ScheduleTable) -> Grid:
    every = _ONE_YEAR if table.anchor is None else _quantity("every", table.every)
    if every is None or every.amount == 0:
        raise ValueError("anchor: needs `every`, the distance between the fixed dates")
    return Grid(
        anchor=_year_day(table.annual_on) if table.anchor is None else parse_expression(table.anchor),
        every=every,
        rebase_if_early=_quantity("rebase_if_early", table.rebase_if_early),
        lead=_quantity("lead", table.lead),
        resume=_quantity("resume", table.resume),
    )


def _quantity(key: str, value: object) -> Quantity | None:
    if value is None:
        return None
    try:
        return parse_quantity(value)
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None


def _first(source: object) -> tuple[First, ...]:
    if source is None:
        return ()
    if not isinstance(source, list):
        return (First(None, parse_expression(source)),)
    return tuple(_alternative(entry) for entry in source)


def _alternative(entry: object) -> First:
    if not isinstance(entry, dict) or not {"due"} <= set(entry) <= {"due", "when"}:
        raise ValueError(f"first: each alternative is a table with `due` and perhaps `when`, not {entry!r}")
    when = entry.get("when")
    return First(None if when is None else parse_condition(when, _no_names), parse_expression(entry["due"]))


def _no_names(name: str) -> object:
    raise ValueError(f"first: write the condition out instead of naming {name!r}")


def _milestone(entry: object) -> Milestone:
    if not isinstance(entry, dict):
        entry = {"due": entry}
    if not {"due"} <= set(entry) <= {"due", "opens"}:
        raise ValueError(
            f"then: each milestone is an expression, or a table with `due` and `opens`, not {entry!r}"
        )
    due = parse_expression(entry["due"])
    return Milestone(due, _opens(entry.get("opens"), due))


_MONTH_DAY = re.compile(r"(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")


def _year_day(source: object) -> YearDay:
    if isinstance(source, str):
        return YearDay(None, (("", _month_day(source)),))
    if (
        not isinstance(source, dict)
        or set(source) != {"key", "table"}
        or not isinstance(source["table"], dict)
    ):
        raise ValueError('annual_on: "MM-DD" or a table with `key` (a field) and `table` (value = "MM-DD")')
    dates = tuple((str(value), _month_day(text)) for value, text in source["table"].items())
    return YearDay(parse_path(source["key"]), dates)


def _month_day(text: object) -> tuple[int, int]:
    match = _MONTH_DAY.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f'annual_on: a date is written "MM-DD", not {text!r}')
    return int(match[1]), int(match[2])

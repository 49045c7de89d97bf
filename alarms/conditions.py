"""The conditions an alarm can be about: what each means in plain words, what to do first, and how urgent it is.

The content is in `conditions.toml` beside this module. Classes are those of 40 CFR 280.50; they drive legal clocks
elsewhere, never here.
"""

import tomllib
from collections.abc import Mapping
from datetime import timedelta
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any

import msgspec

from alarms.lifecycle import Nature
from equipment.activities.catalogue import FOLDER as ACTIVITIES
from equipment.activities.catalogue import standing_caution
from equipment.activities.definitions import Caution
from equipment.activities.loading import CAUTIONS_FILE, load_cautions

FILE = Path(__file__).with_name("conditions.toml")


class ConditionClass(StrEnum):
    """What a condition is to the regulation: 40 CFR 280.50(a), (b), (c); the last two start no reporting clock."""

    RELEASED_PRODUCT = "released product"
    UNUSUAL_OPERATING_CONDITION = "unusual operating condition"
    MONITORING_RESULT = "monitoring result"
    EQUIPMENT_FAULT = "equipment fault"
    OPERATING = "operating"


# 40 CFR 280.50 asks for no report of these by themselves.
STARTS_NO_CLOCK = frozenset({ConditionClass.EQUIPMENT_FAULT, ConditionClass.OPERATING})


class Priority(StrEnum):
    """How fast somebody has to act (common practice, no source). Low: the first people are told, once."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class ConditionsError(ValueError):
    """The catalogue file is wrong. The message says where and what to do."""


class Condition(msgspec.Struct, frozen=True, kw_only=True):
    """One condition. `class_where_method` replaces the usual class where the device is the release-detection method;
    `law` what the law usually wants done about alarms of its class. `at`: kinds of component it can be about; none:
    anywhere.

    `condition_class` is None for an unlisted word only: unknown, so that nobody takes it for harmless.
    """

    slug: str
    title: str
    meaning: str
    causes: tuple[str, ...]
    first_steps: tuple[str, ...]
    cautions: tuple[Caution, ...]
    condition_class: ConditionClass | None
    priority: Priority
    cite: str
    class_where_method: ConditionClass | None = None
    at: tuple[str, ...] = ()
    nature: Nature = Nature()
    law: "LawClock | None" = None

    def can_be_at(self, kind: str) -> bool:
        """Whether a component of this kind (a sensor: what it hangs on) can report it. A console speaks for all, and of
        a sensor that hangs on nothing nobody knows what it watches."""
        return not self.at or kind in (*self.at, "monitoring_console", "sensor")

    @property
    def caution(self) -> str:
        """All cautions as one text."""
        return " ".join(caution.text for caution in self.cautions)


class _Row(msgspec.Struct, forbid_unknown_fields=True):
    slug: str
    title: str
    meaning: str
    causes: list[str]
    first_steps: list[str]
    cautions: list[str]
    condition_class: ConditionClass = msgspec.field(name="class")
    priority: Priority
    cite: str
    class_where_method: ConditionClass | None = None
    at: list[str] = []
    latches: bool = False
    comes_and_goes: bool = False
    law: str = ""


class LawClock(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the law usually wants done about an alarm of a class, before this one has been judged."""

    condition_class: ConditionClass = msgspec.field(name="class")
    text: Annotated[str, msgspec.Meta(min_length=1)]
    cite: Annotated[str, msgspec.Meta(min_length=1)]


# No file may believe an older message: what was known at a past instant is looked up within this (`alarms.turns`), also
# of messages that came while another delay stood in the file.
LONGEST_DELAY = timedelta(days=90)


class _EventsTable(msgspec.Struct, forbid_unknown_fields=True):
    plausible_delay_days: Annotated[int, msgspec.Meta(ge=1, le=LONGEST_DELAY.days)]


@cache
def plausible_delay() -> timedelta:
    """How long before its receipt an event can believably have happened. Read once a process."""
    return load_plausible_delay(FILE)


def load_plausible_delay(path: Path) -> timedelta:
    """The delay that a file states; ConditionsError names file and key."""
    try:
        table = msgspec.convert(_tables(path).get("events", {}), _EventsTable)
    except msgspec.ValidationError as error:
        raise ConditionsError(f"{path}: [events]: {error}") from error
    return timedelta(days=table.plausible_delay_days)


class _ShelvingTable(msgspec.Struct, forbid_unknown_fields=True):
    longest_hours: dict[Priority, Annotated[int, msgspec.Meta(ge=1)]]


@cache
def longest_shelving() -> Mapping[Priority, timedelta]:
    """How long an alarm may be kept quiet at most, by its priority. Read once a process."""
    return MappingProxyType(load_longest_shelving(FILE))


def load_longest_shelving(path: Path) -> dict[Priority, timedelta]:
    """The limits that a file states, one for every priority; ConditionsError names file and key."""
    try:
        hours = msgspec.convert(_tables(path).get("shelving", {}), _ShelvingTable).longest_hours
    except msgspec.ValidationError as error:
        raise ConditionsError(f"{path}: [shelving]: {error}") from error
    if missing := [one for one in Priority if one not in hours]:
        raise ConditionsError(f"{path}: [shelving.longest_hours]: {missing[0]} is missing; state it")
    return {priority: timedelta(hours=number) for priority, number in hours.items()}


@cache
def law_clocks() -> Mapping[ConditionClass, LawClock]:
    """The usual clock of the law by class; a class that is not in it has none. Read once a process."""
    return MappingProxyType(load_law_clocks(FILE))


def law_of(condition: str, condition_class: str | None) -> LawClock | None:
    """What the law usually wants done about an alarm of this condition and class; None: nothing by the hour."""
    of_class = law_clocks().get(ConditionClass(condition_class)) if condition_class else None
    return condition_or_unlisted(condition).law or of_class


def load_law_clocks(path: Path) -> dict[ConditionClass, LawClock]:
    """The clocks that a file states; ConditionsError names file and key."""
    try:
        rows = msgspec.convert(_tables(path).get("law_clock", []), list[LawClock])
    except msgspec.ValidationError as error:
        raise ConditionsError(f"{path}: [[law_clock]]: {error}") from error
    return {row.condition_class: row for row in rows}


@cache
def conditions() -> Mapping[str, Condition]:
    """Every condition by slug, in the order of the file. Read once a process."""
    return MappingProxyType(load_conditions(FILE))


def load_conditions(path: Path) -> dict[str, Condition]:
    """The conditions of a file; ConditionsError names file, condition and key."""
    tables = _tables(path)
    cautions = load_cautions(ACTIVITIES / CAUTIONS_FILE)
    found: dict[str, Condition] = {}
    for position, table in enumerate(tables.get("condition", []), start=1):
        where = f"{path}: condition {table.get('slug', f'number {position}')}"
        condition = _condition(table, cautions, where)
        if condition.slug in found:
            raise ConditionsError(f"{where}: the slug stands twice; rename or remove one of them")
        found[condition.slug] = condition
    if not found:
        raise ConditionsError(f"{path}: no [[condition]] found")
    return found


def _tables(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ConditionsError(f"{path}: cannot be read as TOML: {error}") from error


def _condition(table: Mapping[str, object], cautions: Mapping[str, Caution], where: str) -> Condition:
    try:
        row = msgspec.convert(table, _Row)
    except msgspec.ValidationError as error:
        raise ConditionsError(f"{where}: {error}") from error
    empty = [
        key
        for key in ("title", "meaning", "causes", "first_steps", "cautions", "cite")
        if not getattr(row, key)
    ]
    if empty:
        raise ConditionsError(f"{where}: {empty[0]} is empty; state it")
    if unknown := [name for name in row.cautions if name not in cautions]:
        raise ConditionsError(f"{where}: caution {unknown[0]!r} is none of: {', '.join(cautions)}")
    return Condition(
        slug=row.slug,
        title=row.title,
        meaning=row.meaning,
        causes=tuple(row.causes),
        first_steps=tuple(row.first_steps),
        cautions=tuple(cautions[name] for name in row.cautions),
        condition_class=row.condition_class,
        priority=row.priority,
        cite=row.cite,
        class_where_method=row.class_where_method,
        at=tuple(row.at),
        nature=Nature(latches=row.latches, comes_and_goes=row.comes_and_goes),
        law=LawClock(row.condition_class, row.law, row.cite) if row.law else None,
    )


def condition_or_unlisted(slug: str) -> Condition:
    """The condition; for a word that is not in the catalogue one that says so, to be treated as urgent."""
    return conditions().get(slug) or unlisted(slug)


def unlisted(word: str) -> Condition:
    """A condition we have no entry for: nobody may be left untold because a sender uses a word of its own."""
    return Condition(
        slug=word,
        title=f"Condition not in the catalogue: {word}",
        meaning="The sender used a word that is not in the catalogue, so what it means is not known here.",
        causes=("a sender whose words were not yet matched to the catalogue",),
        first_steps=(
            "Read the device's own display and its handbook.",
            "Treat it as a possible leak until you know better.",
        ),
        cautions=(standing_caution(),),
        condition_class=None,
        priority=Priority.HIGH,
        cite="common practice, no source",
    )

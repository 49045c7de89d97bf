"""Checks the measurements of a record against its activity, before anything is stored.

A wrong value is refused with the place and the mend. A *bad* value is not wrong: a failing test must
be recordable, so bounds stand only where nature sets one. JSON null means unknown and is always allowed,
except where a record without the value would be meaningless. Names that begin with `x_` are the sender's own.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import isfinite
from typing import Any

from equipment.activities.definitions import Activity, Measurement
from equipment.activities.stated_units import in_own_unit, shown_given, takes_unit, unit_faults
from equipment.activities.suggestions import listed_word, unknown_name
from equipment.activities.units import UNITLESS
from equipment.faults import Fault

MAX_TEXT = 2_000
MAX_ITEMS = 500
MAX_NUMBER = 1e12
MAX_DEPTH = 8
OWN_PREFIX = "x_"

# ASCII white space only, so that this check and the published JSON Schema pattern agree to the letter.
NOT_BLANK = r"[^ \t\n\r\f\v]"


def check_measurements(activity: Activity, values: Mapping[str, object]) -> list[Fault]:
    """What is wrong with these measurements, in their order; an empty list when they can be stored."""
    return list(_check_object(activity.measurements, values, ""))


def _check_object(
    known: tuple[Measurement, ...], values: Mapping[Any, object], pointer: str
) -> Iterator[Fault]:
    by_name = {each.name: each for each in known}
    for name, value in values.items():
        place = f"{pointer}/{_escaped(name)}"
        if not isinstance(name, str):
            yield Fault(place, "a measurement's name is a text", "type")
        elif name in by_name:
            yield from _check_value(by_name[name], value, place)
        elif name.startswith(OWN_PREFIX):
            yield from _check_storable(name, place)
            yield from _check_own(value, place)
        else:
            yield Fault(place, unknown_name(name, known), "unknown")
    for each in known:
        if each.required and values.get(each.name) is None:
            yield Fault(f"{pointer}/{each.name}", f"is needed: {each.description}", "missing")


def _check_value(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if value is None:
        return
    match known.type:
        case "number" if isinstance(value, Mapping) and takes_unit(known):
            yield from _check_given(known, value, place)
        case "number" | "integer":
            yield from _check_number(known, value, place)
        case "boolean":
            if not isinstance(value, bool):
                yield Fault(place, f"is true or false, not {_shown(value)}", "type")
        case "text":
            yield from _check_text(known, value, place)
        case "choice":
            yield from _check_choice(known, value, place)
        case "list-of-choice" | "list-of-text" | "rows":
            yield from _check_list(known, value, place)


def _check_number(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield Fault(place, f"is {_kind(known)}, not {_shown(value)}", "type")
    elif isinstance(value, float) and not isfinite(value):
        yield Fault(place, "is not a finite number; leave it out when it is unknown", "not-finite")
    elif abs(value) > MAX_NUMBER:
        yield Fault(place, "is larger than anything that can be measured here", "too-large")
    elif known.type == "integer" and value != int(value):
        yield Fault(place, f"is {_kind(known)}, not {_shown(value)}", "type")
    elif known.min is not None and value < known.min:
        yield Fault(place, _beyond(known, value, f"the least possible is {known.min:g}"), "below-minimum")
    elif known.max is not None and value > known.max:
        yield Fault(place, _beyond(known, value, f"the most possible is {known.max:g}"), "above-maximum")


def _beyond(known: Measurement, value: object, bound: str) -> str:
    return f"is {_shown(value)}; {bound}" + (f": {known.beyond}" if known.beyond else "")


def _check_given(known: Measurement, given: Mapping[Any, Any], place: str) -> Iterator[Fault]:
    """A value with a unit of its own: bounds hold for it in the catalogue's unit, which the sentence then names."""
    faults = list(unit_faults(known.name, given, place))
    yield from faults
    if faults:
        return
    for fault in _check_number(known, in_own_unit(known.name, given), f"{place}/value"):
        yield Fault(fault.pointer, f"{shown_given(given)} {fault.detail} ({known.unit})", fault.code)


def _check_text(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if not isinstance(value, str):
        yield Fault(place, f"is a text, not {_shown(value)}", "type")
        return
    yield from _check_storable(value, place)
    if not re.search(NOT_BLANK, value):
        yield Fault(place, "is empty; leave it out when there is nothing to say", "empty")
    elif len(value) > MAX_TEXT:
        yield Fault(place, f"has {len(value)} characters; {MAX_TEXT} at most, attach the rest", "too-long")
    elif word := listed_word(value, known.words):
        yield Fault(place, f"is {_shown(value)}; rules look for {word!r}: write it so", "near-miss")


def _check_choice(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if not isinstance(value, str):
        yield Fault(place, f"is one of {_listed(known.choices)}, not {_shown(value)}", "type")
    elif value not in known.choices:
        yield Fault(place, f"is {_shown(value)}; choose one of {_listed(known.choices)}", "choice")


def _check_list(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if not isinstance(value, list | tuple):
        yield Fault(place, f"is a list, not {_shown(value)}", "type")
        return
    if known.required and not value:
        yield Fault(place, f"is an empty list; name at least one: {known.description}", "empty")
    if len(value) > MAX_ITEMS:
        yield Fault(place, f"has {len(value)} entries; {MAX_ITEMS} at most", "too-long")
        return
    seen: list[object] = []
    for position, item in enumerate(value):
        yield from _check_item(known, item, f"{place}/{position}")
        if known.type == "list-of-choice" and isinstance(item, str):
            if item in seen:
                yield Fault(f"{place}/{position}", f"names {_shown(item)} twice; once is enough", "repeated")
            seen.append(item)


def _check_item(known: Measurement, item: object, place: str) -> Iterator[Fault]:
    match known.type:
        case "list-of-choice":
            yield from _check_choice(known, item, place)
        case "list-of-text":
            yield from _check_text(known, item, place)
        case _ if isinstance(item, Mapping):
            yield from _check_object(known.fields, item, place)
        case _:
            yield Fault(place, f"is an object with {_listed(f.name for f in known.fields)}", "type")


def _check_own(value: object, place: str, depth: int = 0) -> Iterator[Fault]:
    """A sender's own value may have any shape, as long as it is JSON that can be stored and sent back."""
    match value:
        case None | bool():
            return
        case str():
            yield from _check_storable(value, place)
        case int() | float():
            yield from _check_number(_ANY_NUMBER, value, place)
        case Mapping() | list() | tuple():
            yield from _check_own_nested(value, place, depth)
        case _:
            yield Fault(place, f"is not JSON: {_shown(value)}", "type")


def _check_own_nested(
    value: Mapping[Any, object] | Sequence[object], place: str, depth: int
) -> Iterator[Fault]:
    if depth == MAX_DEPTH:
        yield Fault(place, f"is nested more than {MAX_DEPTH} deep; flatten it", "type")
        return
    for name, item in value.items() if isinstance(value, Mapping) else enumerate(value):
        inner = f"{place}/{_escaped(name)}"
        if isinstance(value, Mapping) and not isinstance(name, str):
            yield Fault(inner, "a name is a text", "type")
        if isinstance(name, str):
            yield from _check_storable(name, inner)
        yield from _check_own(item, inner, depth + 1)


def _check_storable(text: str, place: str) -> Iterator[Fault]:
    """JSON can carry two things that a database's JSON column cannot: NUL, and half of a character pair."""
    if "\x00" in text or any("\ud800" <= char <= "\udfff" for char in text):
        yield Fault(
            place, "holds a character that cannot be stored (NUL or half a pair); remove it", "unstorable"
        )


_ANY_NUMBER = Measurement(name="own", type="number", description="A sender's own number.")


def _kind(known: Measurement) -> str:
    kind = "a whole number" if known.type == "integer" else "a number"
    return f"{kind} of {known.unit}" if known.unit and known.unit not in UNITLESS else kind


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _shown(value: object) -> str:
    """A value as JSON would write it, short; shapes that are no single value by their kind only."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return repr(value if len(value) <= 60 else value[:57] + "...")
        case float():
            return repr(value)
        case int():
            return str(value) if abs(value) <= MAX_NUMBER else "a very large number"
        case Mapping():
            return "an object"
        case _:
            return "a list" if isinstance(value, list | tuple) else f"a {type(value).__name__}"


def _escaped(name: object) -> str:
    text = name if isinstance(name, str) else _shown(name)
    return text.replace("~", "~0").replace("/", "~1")

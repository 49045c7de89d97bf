"""Checks the measurements of a record against its activity, before anything is stored.

A wrong value is refused with the place and the mend. A *bad* value is not wrong: a failing test must
be recordable, so bounds stand only where nature sets one. JSON null means unknown and is always allowed,
except where a record without the value would be meaningless. Names that begin with `x_` are the sender's own.
"""

import difflib
import re
from collections.abc import Iterator, Mapping
from math import isfinite

import msgspec

from equipment.activities.definitions import Activity, Measurement
from equipment.activities.units import stem

MAX_TEXT = 2_000
MAX_ITEMS = 500
MAX_NUMBER = 1e12
MAX_DEPTH = 8
OWN_PREFIX = "x_"

# ASCII white space only, so that this check and the published JSON Schema pattern agree to the letter.
NOT_BLANK = r"[^ \t\n\r\f\v]"

# As close as a slip of the finger; another word on purpose stays allowed.
SAME_WORD = 0.9


class Fault(msgspec.Struct, frozen=True):
    """One thing wrong. `pointer` is a JSON pointer (RFC 6901) inside the measurements.

    `code` is one of unknown, missing, type, not-finite, too-large, below-minimum, above-maximum, choice,
    near-miss, empty, too-long, repeated.
    """

    pointer: str
    detail: str
    code: str


def check_measurements(activity: Activity, values: Mapping[str, object]) -> list[Fault]:
    """What is wrong with these measurements, in their order; an empty list when they can be stored."""
    return list(_check_object(activity.measurements, values, ""))


def _check_object(
    known: tuple[Measurement, ...], values: Mapping[str, object], pointer: str
) -> Iterator[Fault]:
    by_name = {each.name: each for each in known}
    for name, value in values.items():
        place = f"{pointer}/{_escaped(name)}"
        if not isinstance(name, str):
            yield Fault(place, "a measurement's name is a text", "type")
        elif name in by_name:
            yield from _check_value(by_name[name], value, place)
        elif name.startswith(OWN_PREFIX):
            yield from _check_own(value, place)
        else:
            yield Fault(place, _unknown(name, known), "unknown")
    for each in known:
        if each.required and values.get(each.name) is None:
            yield Fault(f"{pointer}/{each.name}", f"is needed: {each.description}", "missing")


def _check_value(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if value is None:
        return
    match known.type:
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
        yield Fault(place, f"is {_shown(value)}; the least possible is {known.min:g}", "below-minimum")
    elif known.max is not None and value > known.max:
        yield Fault(place, f"is {_shown(value)}; the most possible is {known.max:g}", "above-maximum")


def _check_text(known: Measurement, value: object, place: str) -> Iterator[Fault]:
    if not isinstance(value, str):
        yield Fault(place, f"is a text, not {_shown(value)}", "type")
    elif not re.search(NOT_BLANK, value):
        yield Fault(place, "is empty; leave it out when there is nothing to say", "empty")
    elif len(value) > MAX_TEXT:
        yield Fault(place, f"has {len(value)} characters; {MAX_TEXT} at most, attach the rest", "too-long")
    elif word := _meant(value, known.words):
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
    if value is None or isinstance(value, bool | str):
        return
    if isinstance(value, int | float):
        yield from _check_number(_ANY_NUMBER, value, place)
    elif depth == MAX_DEPTH:
        yield Fault(place, f"is nested more than {MAX_DEPTH} deep; flatten it", "type")
    elif isinstance(value, Mapping):
        for name, item in value.items():
            yield from _check_own(
                item if isinstance(name, str) else name, f"{place}/{_escaped(name)}", depth + 1
            )
    elif isinstance(value, list | tuple):
        for position, item in enumerate(value):
            yield from _check_own(item, f"{place}/{position}", depth + 1)
    else:
        yield Fault(place, f"is not JSON: {type(value).__name__}", "type")


_ANY_NUMBER = Measurement(name="own", type="number", description="A sender's own number.")


def _unknown(name: str, known: tuple[Measurement, ...]) -> str:
    """The most helpful sentence about a name that the activity does not have."""
    names = [each.name for each in known]
    if not names:
        return "this activity takes no measurements; a value of your own begins with x_"
    if bare := [each for each in known if each.unit and stem(each.name) == name != each.name]:
        return f"state the unit in the name: {' or '.join(each.name for each in bare)}"
    if other := [each for each in known if _other_unit(name, each)]:
        return f"convert it to {' or '.join(f'{each.unit} as {each.name}' for each in other)}"
    if near := difflib.get_close_matches(name, names, n=1):
        return f"no such measurement; did you mean {near[0]}?"
    return f"no such measurement; known: {', '.join(names)}; a value of your own begins with x_"


def _other_unit(name: str, known: Measurement) -> bool:
    """Whether the name is this measurement in a unit that is not ours: `leak_rate_lph`."""
    bare = stem(known.name)
    return known.unit is not None and bool(bare) and bare != known.name and name.startswith(f"{bare}_")


def _meant(value: str, words: tuple[str, ...]) -> str | None:
    """The listed word that a text nearly is; None when it is one, or is something else."""
    if value in words:
        return None
    plain = re.sub(r"[\W_]+", " ", value).strip().casefold()
    for word in words:
        like = re.sub(r"[\W_]+", " ", word)
        if plain == like or (
            abs(len(plain) - len(like)) <= 2
            and difflib.SequenceMatcher(None, plain, like).ratio() >= SAME_WORD
        ):
            return word
    return None


def _kind(known: Measurement) -> str:
    kind = "a whole number" if known.type == "integer" else "a number"
    return f"{kind} of {known.unit}" if known.unit and known.unit not in ("count", "ratio") else kind


def _listed(words: object) -> str:
    return ", ".join(map(str, words)) if isinstance(words, Iterator | tuple) else str(words)


def _shown(value: object) -> str:
    """A value as JSON would write it, short; shapes that are no single value by their kind only."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return repr(value if len(value) <= 60 else value[:57] + "...")
        case float():
            return f"{value!r}"
        case int():
            return str(value) if abs(value) <= MAX_NUMBER else "a very large number"
        case Mapping():
            return "an object"
        case list() | tuple():
            return "a list"
        case _:
            return f"a {type(value).__name__}"


def _escaped(name: object) -> str:
    text = name if isinstance(name, str) else _shown(name)
    return text.replace("~", "~0").replace("/", "~1")

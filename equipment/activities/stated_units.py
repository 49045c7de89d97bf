"""A quantity given with a unit of its own: `{"value": 189.3, "unit": "mL/min"}` where the name says gallons an hour.

It is checked and converted here, for measurements of records and for every other body that takes quantities, and the
original is kept beside what was stated. Units are taken in the spellings listed, letter for letter: M is no m. Only
what has another unit in use may be given so.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from math import isfinite
from typing import Any

import msgspec

from equipment.activities.definitions import Activity, Measurement
from equipment.activities.units import suffix_of
from equipment.faults import Fault
from equipment.physics.units import UnitMismatch, alternates, convert

# Far below what any instrument reads; so two readings in millimetres keep the eighth of an inch between them.
DECIMALS = 10
PARTS = ("value", "unit")
# So that no conversion leaves what a float holds.
LARGEST = 1e100

SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "ml": ("mL",),
    "l": ("L",),
    "ml_min": ("mL/min", "ml/min"),
    "l_h": ("L/h", "l/h"),
    "l_min": ("L/min", "l/min"),
    "gph": ("gal/h",),
    "gpm": ("gal/min",),
    "in3": ("in³",),
    "ft3": ("ft³",),
    "kpa": ("kPa",),
    "in_wc": ("in w.c.",),
    "in_hg": ("in Hg",),
    "kg_m3": ("kg/m³",),
    "g_ml": ("g/mL",),
    "lb_gal": ("lb/gal",),
    "degc": ("°C",),
    "degf": ("°F",),
    "volts": ("V",),
    "mv": ("mV",),
    "amps": ("A",),
    "ma": ("mA",),
    "ohms": ("Ω",),
    "kohms": ("kΩ",),
}


class Reckoned(msgspec.Struct, frozen=True):
    """Measurements in the catalogue's units, and what was stated otherwise, by JSON pointer into them."""

    values: dict[str, Any]
    stated: dict[str, dict[str, Any]]


@cache
def accepted_units(name: str) -> tuple[str, ...]:
    """The spellings in which a unit may be stated for a measurement of this name; none where it has no unit."""
    suffix = suffix_of(name)
    if suffix is None:
        return ()
    try:
        units = alternates(suffix)
    except UnitMismatch:
        return ()
    return tuple(spelt for unit in units for spelt in (unit, *SPELLINGS.get(unit, ())))


def takes_unit(known: Measurement) -> bool:
    """Whether the measurement may come with a unit."""
    return known.type == "number" and bool(accepted_units(known.name))


def in_own_unit(quantity: str, given: Mapping[Any, Any]) -> float:
    """The value in the unit that the name states. Only for what `unit_faults` finds nothing wrong with."""
    wanted, unit = str(suffix_of(quantity)), _canonical(given["unit"])
    return round(convert(given["value"], unit, wanted), DECIMALS)


def unit_faults(quantity: str, given: Mapping[Any, Any], place: str) -> Iterator[Fault]:
    """What is wrong with a value that comes with a unit; bounds are the quantity's own and checked elsewhere."""
    for name in given:
        if name not in PARTS:
            yield Fault(f"{place}/{_escaped(name)}", "only value and unit stand here", "unknown")
    for name in PARTS:
        if name not in given:
            yield Fault(
                f"{place}/{name}", "is needed: a number, and the unit that it is stated in", "missing"
            )
    value = given.get("value", 0)
    if isinstance(value, bool) or not isinstance(value, int | float):
        yield Fault(f"{place}/value", "is a number", "type")
    elif isinstance(value, float) and not isfinite(value):
        yield Fault(f"{place}/value", "is not a finite number", "not-finite")
    elif abs(value) > LARGEST:
        yield Fault(f"{place}/value", "is larger than anything that can be measured here", "too-large")
    accepted = accepted_units(quantity)
    unit = given.get("unit", accepted[0])
    if not isinstance(unit, str) or unit not in accepted:
        detail = f"{quantity} can be stated in {', '.join(accepted)}"
        yield Fault(f"{place}/unit", detail, "unit")


def reckon(activity: Activity, values: Mapping[str, Any]) -> Reckoned:
    """The measurements as they are kept. Raises nothing for measurements in which the check finds no fault."""
    stated: dict[str, dict[str, Any]] = {}
    return Reckoned(_reckoned(activity.measurements, values, "", stated), stated)


def _reckoned(
    known: tuple[Measurement, ...], values: Mapping[str, Any], pointer: str, stated: dict[str, dict[str, Any]]
) -> dict[str, Any]:
    by_name = {each.name: each for each in known}
    kept: dict[str, Any] = {}
    for name, value in values.items():
        place, each = f"{pointer}/{_escaped(name)}", by_name.get(name)
        if each is not None and each.type == "rows" and isinstance(value, list | tuple):
            kept[name] = [
                _reckoned(each.fields, row, f"{place}/{position}", stated)
                for position, row in enumerate(value)
            ]
        elif each is not None and takes_unit(each) and isinstance(value, Mapping):
            kept[name] = in_own_unit(name, value)
            stated[place] = dict(value)
        else:
            kept[name] = value
    return kept


def _canonical(spelt: str) -> str:
    return next((unit for unit, others in SPELLINGS.items() if spelt in others), spelt)


def _escaped(name: object) -> str:
    return str(name).replace("~", "~0").replace("/", "~1")


def shown_given(given: Mapping[Any, Any]) -> str:
    """The stated value for a sentence."""
    return f"{Decimal(str(given['value'])):f} {given['unit']}"

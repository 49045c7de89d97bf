"""Conversion of units, each by its one name here; how people spell them: `equipment.activities.stated_units`.

Factors are exact by definition (inch = 25.4 mm, US gallon = 231 cubic inches, pound-force = 4.4482216152605 N,
pound = 0.45359237 kg),
except the two liquid columns, which are the conventional values of NIST SP 811, appendix B.8 (from memory,
unverified): water at 4 °C, mercury at 0 °C.
"""

from fractions import Fraction

CUBIC_INCHES_A_GALLON = 231
# Fresh water at 60 °F, which specific and API gravities are against: kg/m³, as in the definition of API gravity.
WATER_KG_M3 = Fraction(999012, 1000)
LITRES_A_GALLON = Fraction(3785411784, 10**9)
_POUND_KG = Fraction(45359237, 10**8)
_POUND_FORCE_KN = Fraction(44482216152605, 10**16)
_PSI_KPA = _POUND_FORCE_KN / Fraction(254, 10**4) ** 2
_INCH_OF_WATER_KPA = Fraction(24908891, 10**8)
_INCH_OF_MERCURY_KPA = Fraction(3386389, 10**6)

# Each unit: what it measures, and how many of the first unit of that kind one of it is.
_SCALES: dict[str, tuple[str, Fraction]] = {
    "in": ("length", Fraction(1)),
    "ft": ("length", Fraction(12)),
    "mil": ("length", Fraction(1, 1000)),
    "mm": ("length", Fraction(10, 254)),
    "cm": ("length", Fraction(100, 254)),
    "m": ("length", Fraction(10000, 254)),
    "gal": ("volume", Fraction(1)),
    "l": ("volume", 1 / LITRES_A_GALLON),
    "ml": ("volume", Fraction(1, 1000) / LITRES_A_GALLON),
    "in3": ("volume", Fraction(1, 231)),
    "ft3": ("volume", Fraction(1728, 231)),
    "gph": ("flow", Fraction(1)),
    "gpm": ("flow", Fraction(60)),
    "l_h": ("flow", 1 / LITRES_A_GALLON),
    "l_min": ("flow", 60 / LITRES_A_GALLON),
    "ml_min": ("flow", Fraction(60, 1000) / LITRES_A_GALLON),
    "psi": ("pressure", Fraction(1)),
    "kpa": ("pressure", 1 / _PSI_KPA),
    "bar": ("pressure", 100 / _PSI_KPA),
    "in_wc": ("pressure", _INCH_OF_WATER_KPA / _PSI_KPA),
    "in_hg": ("pressure", _INCH_OF_MERCURY_KPA / _PSI_KPA),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
    "minutes": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "hours": ("time", Fraction(3600)),
    "sg": ("density", Fraction(1)),
    "kg_m3": ("density", 1 / WATER_KG_M3),
    "g_ml": ("density", 1000 / WATER_KG_M3),
    "lb_gal": ("density", _POUND_KG / (LITRES_A_GALLON / 1000) / WATER_KG_M3),
    "mv": ("voltage", Fraction(1)),
    "volts": ("voltage", Fraction(1000)),
    "amps": ("current", Fraction(1)),
    "ma": ("current", Fraction(1, 1000)),
    "ohms": ("resistance", Fraction(1)),
    "kohms": ("resistance", Fraction(1000)),
}
_TEMPERATURES = ("degf", "degc")


class UnitMismatch(ValueError):
    """A value came in a unit that is unknown, or that measures something else. The message says what to send."""


def convert(value: float, stated: str, wanted: str) -> float:
    """`value` in another unit; UnitMismatch names the units that would do."""
    source, target = _known(stated), _known(wanted)
    if source in _TEMPERATURES and target in _TEMPERATURES:
        return _temperature(value, source, target)
    if source in _TEMPERATURES or target in _TEMPERATURES or _SCALES[source][0] != _SCALES[target][0]:
        raise UnitMismatch(
            f"{stated} cannot be turned into {wanted}; send one of {', '.join(alternates(wanted))}"
        )
    # Digit by digit as it was written: 3.175 mm is 1/8 in, which the binary fraction nearest to 3.175 is not.
    return float(Fraction(repr(value)) * _SCALES[source][1] / _SCALES[target][1])


def alternates(wanted: str) -> tuple[str, ...]:
    """The units in which a value of this unit may also be stated."""
    unit = _known(wanted)
    if unit in _TEMPERATURES:
        return _TEMPERATURES
    return tuple(name for name, (kind, _) in _SCALES.items() if kind == _SCALES[unit][0])


def known_units() -> tuple[str, ...]:
    """Every unit, in its one spelling."""
    return (*_SCALES, *_TEMPERATURES)


def _known(unit: str) -> str:
    if unit not in _SCALES and unit not in _TEMPERATURES:
        raise UnitMismatch(f"unit {unit!r} is not known; known: {', '.join(known_units())}")
    return unit


def _temperature(value: float, source: str, target: str) -> float:
    if source == target:
        return value
    exact = Fraction(repr(value))
    return float(exact * Fraction(9, 5) + 32 if target == "degf" else (exact - 32) * Fraction(5, 9))

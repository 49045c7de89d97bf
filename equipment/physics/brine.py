"""Density and expansion of calcium chloride brine, the liquid in a monitored space between walls.

`HANDBOOK` is an engineering reference table at 20 °C. The fit over temperature is Melinder, "Properties of Secondary
Working Fluids for Indirect Systems" (2010), CaCl2, with the coefficients that CoolProp publishes as INCOMP::MCA; it
lies within 0.3 % of the handbook and 0.5 % of a later measurement (Al Ghafri and others, J. Chem. Eng. Data 57 (2012)
1288). Its slope is less sure: `expansion_spread` says how far that measurement lies from it.
"""

from itertools import pairwise

HANDBOOK = (
    (0.0, 0.9982),
    (1.0, 1.0065),
    (5.0, 1.0401),
    (10.0, 1.0835),
    (20.0, 1.1775),
    (30.0, 1.2816),
    (40.0, 1.3957),
)
# The liquid in use is 25 to 30 percent strong and lies in the ground. Thinner or warmer, the fit's slope may be half or
# twice the measured one; below 20 percent it is worse than none.
EXPANSION_SPREAD, DOUBTFUL_SPREAD = 0.15, 1.0
USUAL_MASS_PCT, USUAL_DEGC, LEAST_MASS_PCT = 25.0, (0.0, 25.0), 20.0
HIGHEST_DEGC = 40.0
MOST_MASS_PCT = 30.0
# The handbook's strongest: there the density is known at 20 °C, and no expansion.
STRONGEST_MASS_PCT = HANDBOOK[-1][0]

_BASE_KELVIN, _BASE_FRACTION = 280.6757, 0.187414
# One row a power of the temperature above its base, one column a power of the mass fraction above its base.
_DENSITY = (
    (1171.0, 984.7, 338.9, 1062.0, 2785.0, -18110.0),
    (-0.1463, -2.488, -23.02, 62.91, 642.3),
    (-0.001302, -0.0553, 0.3526, 1.806),
    (-0.0001871, 0.001665, 0.002788),
)
_FREEZING = (256.94, -155.5, -549.6, -2624.0, -17260.0, -44940.0)


class OutsideTheFit(ValueError):
    """A strength or temperature for which no density is published here."""


def handbook_density(mass_pct: float) -> float:
    """g/mL at 20 °C from the handbook table, straight lines between its rows (0 to 40 percent by mass).

    The row of pure water is from memory.
    """
    for (low, light), (high, heavy) in pairwise(HANDBOOK):
        if low <= mass_pct <= high:
            return light + (heavy - light) * (mass_pct - low) / (high - low)
    raise OutsideTheFit(f"{mass_pct:g} % by mass is outside the table, 0 to 40 %")


def density(mass_pct: float, degc: float) -> float:
    """kg/m³ at a strength in percent by mass (0 to 30) and a temperature from freezing to 40 °C."""
    _check(mass_pct, degc)
    warmer = degc + 273.15 - _BASE_KELVIN
    return sum(_in_fraction(row, mass_pct) * warmer**power for power, row in enumerate(_DENSITY))


def expansion(mass_pct: float, degc: float) -> float:
    """Part of its volume by which the brine grows for one kelvin, at this temperature; allow `expansion_spread`."""
    _check(mass_pct, degc)
    warmer = degc + 273.15 - _BASE_KELVIN
    slope = sum(
        power * _in_fraction(row, mass_pct) * warmer ** (power - 1)
        for power, row in enumerate(_DENSITY)
        if power
    )
    return -slope / density(mass_pct, degc)


def expansion_spread(mass_pct: float, degc: float) -> float:
    """By which part of itself the expansion may be off; OutsideTheFit where the fit gives none worth having."""
    if mass_pct < LEAST_MASS_PCT:
        raise OutsideTheFit(
            f"below {LEAST_MASS_PCT:g} % by mass no expansion is known here; state its expansion per kelvin"
        )
    usual = mass_pct >= USUAL_MASS_PCT and USUAL_DEGC[0] <= degc <= USUAL_DEGC[1]
    return EXPANSION_SPREAD if usual else DOUBTFUL_SPREAD


def freezing_degc(mass_pct: float) -> float:
    """Where this brine begins to freeze, by the same fit."""
    return _in_fraction(_FREEZING, mass_pct) - 273.15


def _in_fraction(coefficients: tuple[float, ...], mass_pct: float) -> float:
    stronger = mass_pct / 100 - _BASE_FRACTION
    return sum(each * stronger**power for power, each in enumerate(coefficients))


def _check(mass_pct: float, degc: float) -> None:
    if not 0 <= mass_pct <= MOST_MASS_PCT:
        raise OutsideTheFit(f"{mass_pct:g} % by mass is outside the fit, 0 to {MOST_MASS_PCT:g} %")
    if not freezing_degc(mass_pct) <= degc <= HIGHEST_DEGC:
        raise OutsideTheFit(
            f"{degc:g} °C is outside the fit, {freezing_degc(mass_pct):.1f} to {HIGHEST_DEGC:g} °C at {mass_pct:g} %"
        )

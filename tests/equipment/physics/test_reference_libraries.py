"""Every unit against pint, brine against CoolProp and against a published measurement; none shares a line with ours."""

import pint
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import brine
from equipment.physics.units import UnitMismatch, alternates, convert, known_units
from tests import measured_brine

PINT = pint.UnitRegistry()
# The density that API gravity is defined against: 999.012 kg/m³ at 60 °F.
PINT.define("fresh_water = 999.012 kilogram / meter ** 3")
SEA_LEVEL_PA = 101_325
# What pint calls each of our units; its gallon is the US liquid gallon.
NAMES = {
    "amps": "ampere",
    "ma": "milliampere",
    "volts": "volt",
    "mv": "millivolt",
    "ohms": "ohm",
    "kohms": "kiloohm",
    "in": "inch",
    "ft": "foot",
    "mil": "thou",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "gal": "gallon",
    "l": "liter",
    "ml": "milliliter",
    "in3": "inch ** 3",
    "ft3": "foot ** 3",
    "gph": "gallon / hour",
    "gpm": "gallon / minute",
    "l_h": "liter / hour",
    "l_min": "liter / minute",
    "ml_min": "milliliter / minute",
    "psi": "psi",
    "kpa": "kilopascal",
    "bar": "bar",
    "in_wc": "inH2O",
    "in_hg": "inHg",
    "sg": "fresh_water",
    "kg_m3": "kilogram / meter ** 3",
    "g_ml": "gram / milliliter",
    "lb_gal": "pound / gallon",
    "s": "second",
    "min": "minute",
    "minutes": "minute",
    "h": "hour",
    "hours": "hour",
    "degf": "degF",
    "degc": "degC",
}
UNITS = sorted(known_units())
PAIRS = [(one, other) for one in UNITS for other in alternates(one)]
# Liquid columns are conventions: pint's mercury, at 0 °C as ours, has three more digits, and 1e-6 covers them.
# All else is exact by definition in both, so only the last bits of a double may differ.
CONVENTION, DOUBLES = 1e-6, 1e-12


def close(value, of, *units: str):
    loose = {"in_wc", "in_hg"} & {*units}
    return pytest.approx(of, rel=CONVENTION if loose else DOUBLES, abs=1e-9)


@pytest.mark.parametrize(("stated", "wanted"), PAIRS)
def test_every_unit_converts_as_pint_converts_it(stated, wanted):
    for value in (-40.0, 0.0, 0.1, 1.0, 189.27, 12_345.678):
        theirs = PINT.Quantity(value, NAMES[stated]).to(NAMES[wanted]).magnitude

        assert convert(value, stated, wanted) == close(value, theirs, stated, wanted)


@given(st.floats(-1e9, 1e9), st.sampled_from(PAIRS))
def test_any_value_converts_as_pint_converts_it(value, pair):
    stated, wanted = pair
    theirs = PINT.Quantity(value, NAMES[stated]).to(NAMES[wanted]).magnitude

    assert convert(value, stated, wanted) == close(value, theirs, stated, wanted)


@pytest.mark.parametrize("unit", UNITS)
def test_what_pint_cannot_convert_is_refused_here_too(unit):
    quantity = PINT.Quantity(1.0, NAMES[unit])
    others = [one for one in UNITS if not quantity.is_compatible_with(NAMES[one])]

    assert set(others) == set(UNITS) - set(alternates(unit))
    for other in others:
        with pytest.raises(UnitMismatch):
            convert(1.0, unit, other)


def coolprop(what: str, mass_pct: float, degc: float, fluid: str = "MCA") -> float:
    return float(PropsSI(what, "T", degc + 273.15, "P", SEA_LEVEL_PA, f"INCOMP::{fluid}[{mass_pct / 100}]"))


@given(st.floats(0, 30), st.floats(0, 1))
def test_brine_density_is_coolprops_over_the_whole_fit(mass_pct, part):
    """CoolProp 8 publishes the same fit (Melinder 2010): this pins the coefficients and the arithmetic."""
    coldest = brine.freezing_degc(mass_pct) + 0.01
    # The sum may round to just beyond the end of the fit.
    degc = min(coldest + part * (brine.HIGHEST_DEGC - coldest), brine.HIGHEST_DEGC)

    assert brine.density(mass_pct, degc) == pytest.approx(coolprop("D", mass_pct, degc), rel=1e-9)


@given(st.floats(1.5, 30))
def test_brine_freezes_where_coolprop_says(mass_pct):
    warm = 20.0

    assert brine.freezing_degc(mass_pct) == pytest.approx(
        coolprop("T_freeze", mass_pct, warm) - 273.15, abs=1e-6
    )


@given(st.floats(15, 29.9), st.floats(5, 20))
def test_a_second_fit_gives_the_same_density_within_half_a_percent(mass_pct, degc):
    """INCOMP::VCA, 14.7 to 29.9 %: half a percent of a 100 in head is half an inch of water, less than a tide."""
    assert brine.density(mass_pct, degc) == pytest.approx(coolprop("D", mass_pct, degc, "VCA"), rel=0.005)


@given(st.floats(0, 30), st.floats(10, 40))
def test_measured_density_lies_within_half_a_percent(mass_pct, degc):
    assert brine.density(mass_pct, degc) == pytest.approx(measured_brine.density(mass_pct, degc), rel=0.005)


@given(st.floats(brine.LEAST_MASS_PCT, 30), st.floats(1, 40))
def test_measured_expansion_lies_within_the_spread_that_is_stated(mass_pct, degc):
    """The slope of a density is less sure than the density: 15 percent for the brine in use, far more outside."""
    spread = brine.expansion_spread(mass_pct, degc)

    assert brine.expansion(mass_pct, degc) == pytest.approx(
        measured_brine.expansion(mass_pct, degc), rel=0, abs=spread * brine.expansion(mass_pct, degc)
    )


def test_the_brine_in_use_is_known_to_15_percent_and_a_thinner_or_warmer_one_is_not():
    assert brine.expansion_spread(25, 5) == brine.expansion_spread(30, 25) == 0.15
    assert brine.expansion_spread(24.9, 10) == brine.expansion_spread(28, 25.1) == 1.0
    assert brine.expansion_spread(28, -0.1) == 1.0


def test_below_a_fifth_of_salt_no_expansion_is_offered():
    """At 10 % and 10 °C the fit gives 0.8e-4 per K, the measurement 2.2e-4."""
    with pytest.raises(brine.OutsideTheFit, match="state its expansion"):
        brine.expansion_spread(19.9, 10)

    assert measured_brine.expansion(10, 10) > 2.5 * brine.expansion(10, 10)


@pytest.mark.parametrize("mass_pct", [10.0, 20.0, 30.0])
def test_the_handbook_and_the_fit_agree_at_20_degrees(mass_pct):
    """Engineering table at 20 °C against the fit: +0.22, +0.26 and -0.03 percent; 0.3 is allowed."""
    assert brine.handbook_density(mass_pct) * 1000 == pytest.approx(coolprop("D", mass_pct, 20), rel=0.003)


@pytest.mark.parametrize(("mass_pct", "degc"), [(10.0, -10.0), (31.0, 20.0)])
def test_where_coolprop_gives_no_density_neither_do_we(mass_pct, degc):
    with pytest.raises(brine.OutsideTheFit):
        brine.density(mass_pct, degc)
    if degc < 0:
        with pytest.raises(ValueError, match="freez"):
            coolprop("D", mass_pct, degc)

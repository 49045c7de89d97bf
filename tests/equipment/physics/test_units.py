"""Conversions against exact definitions and printed tables."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.activities.units import UNITS
from equipment.physics.units import UnitMismatch, alternates, convert

# NIST SP 811 appendix B.8 and the definitions of the inch and the gallon; as printed, to their last digit.
PRINTED = [
    (1, "in", "mm", 25.4),
    (1, "ft", "m", 0.3048),
    (1, "gal", "in3", 231),
    (1, "gal", "l", 3.785411784),
    (1, "ft3", "gal", 7.480519),
    (1, "psi", "kpa", 6.894757),
    (1, "in_wc", "kpa", 0.2490889),
    (1, "in_hg", "kpa", 3.386389),
    (1, "bar", "psi", 14.50377),
    (1, "gph", "ml_min", 63.0902),
    (1, "gpm", "l_min", 3.785412),
    (1, "lb_gal", "kg_m3", 119.8264),
    (212, "degf", "degc", 100),
    (-40, "degc", "degf", -40),
    (1000, "mil", "in", 1),
    (1, "h", "s", 3600),
]


@pytest.mark.parametrize(("value", "stated", "wanted", "printed"), PRINTED)
def test_a_conversion_is_the_printed_one(value, stated, wanted, printed):
    assert convert(value, stated, wanted) == pytest.approx(printed, rel=1e-6)


@given(st.floats(-1e6, 1e6), st.sampled_from(PRINTED))
def test_there_and_back_is_the_same_value(value, row):
    _, stated, wanted, _ = row

    assert convert(convert(value, stated, wanted), wanted, stated) == pytest.approx(
        value, rel=1e-12, abs=1e-9
    )


def test_another_quantity_is_refused_with_the_units_that_would_do():
    with pytest.raises(UnitMismatch, match="send one of gph, gpm, l_h, l_min, ml_min"):
        convert(1, "psi", "gph")
    with pytest.raises(UnitMismatch, match="send one of degf, degc"):
        convert(1, "psi", "degf")


def test_an_unknown_unit_is_refused_with_the_known_ones():
    with pytest.raises(UnitMismatch, match="'furlong' is not known; known: in, ft"):
        convert(1, "furlong", "in")


@pytest.mark.parametrize("suffix", sorted(set(UNITS) - {"amps", "mv", "ohms", "pct", "ppm", "usd", "volts"}))
def test_every_unit_of_the_catalogue_that_has_alternates_is_known(suffix):
    assert suffix in alternates(suffix)

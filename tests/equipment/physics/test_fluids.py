"""Product volume, brine, breaches and leak rates, against published tables and hydrostatics by hand."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics import brine
from equipment.physics.digits import exact
from equipment.physics.interstice import (
    Space,
    critical_groundwater,
    critical_product,
    inner_breach,
    level_change,
    outer_breach,
    settled_level,
)
from equipment.physics.orifice import rate_at_pressure
from equipment.physics.volume_correction import (
    api_of_density,
    density_of_api,
    expansion,
    growth,
    rounded_api,
    rounded_degf,
    temperature_faults,
    volume_correction,
    volume_correction_api,
)

SPACE = Space(reservoir_in=99, sg_liquid=1.25, sg_product=0.74, product_in=60, groundwater_in=0)


def test_the_armys_worked_example_of_table_6b():
    """US Army QM5097: API 56.5 at 67.5 °F is 0.9950."""
    assert volume_correction_api(56.5, 67.5) == 0.9950


def test_the_formula_at_a_distance_from_its_base():
    """API 64.8 at 34 °F: 1.01835 by the formula of table 6B; W. Va. Code R. 110-14-4 prints an older table, 1.0170."""
    assert volume_correction(density_of_api(64.8), 34, "60 F") == pytest.approx(1.01835, abs=1e-5)


@pytest.mark.parametrize("density", [700.0, 760.0, 780.0, 815.0, 845.0, 900.0])
def test_both_base_temperatures_agree_on_every_band(density):
    """Each constant at 15 °C is 1.8 times the one at 60 °F; 60 °F is 15.56 °C, so the factors lie a hair apart."""
    at_15c, at_60f = volume_correction(density, 25, "15 C"), volume_correction(density, 77, "60 F")

    assert expansion(density, "15 C") == pytest.approx(1.8 * expansion(density, "60 F"))
    assert at_15c == pytest.approx(at_60f, abs=8e-4)


@pytest.mark.parametrize(("below", "above"), [(769.99, 770), (787.99, 788), (838.99, 839)])
def test_the_bands_meet_at_their_edges(below, above):
    """A shifted band jumps by far more: the constants of neighbours differ by a factor."""
    assert expansion(below, "60 F") == pytest.approx(expansion(above, "60 F"), rel=0.02)


def test_gasoline_grows_by_the_rule_of_thumb():
    """Industry rule: 7 gal a °F in 10,000 gal; the formula gives 6.8 at API 60."""
    assert expansion(density_of_api(60), "60 F") * 10_000 == pytest.approx(6.8, abs=0.05)


def test_a_cold_load_grows_in_a_warm_tank_by_the_rule_of_thumb():
    """Industry rule: 7 gal a °F in 10,000 gal of gasoline."""
    assert growth(10_000, 60, 50, 60) == pytest.approx(70, abs=3)
    assert growth(10_000, 60, 60, 50) == pytest.approx(-70, abs=3)


def test_at_the_base_nothing_is_corrected():
    assert volume_correction(740, 60, "60 F") == 1
    assert volume_correction(740, 15, "15 C") == 1


@given(st.floats(5, 80))
def test_api_gravity_and_density_are_inverse(api):
    assert api_of_density(density_of_api(api)) == pytest.approx(api)


def test_water_is_ten_degrees_api():
    """By the definition of the scale."""
    assert density_of_api(10) == pytest.approx(999.012)


@pytest.mark.parametrize(
    ("read", "entered"),
    [
        (56.1, 56.0),
        (56.2, 56.0),
        (56.3, 56.5),
        (56.4, 56.5),
        (56.6, 56.5),
        (56.7, 56.5),
        (56.8, 57.0),
        (56.9, 57.0),
    ],
)
def test_api_gravity_is_entered_to_the_half(read, entered):
    """US Army QM5097 and QM5200a."""
    assert rounded_api(read) == entered


def test_temperature_is_entered_to_the_half_degree():
    assert [rounded_degf(each) for each in (67.2, 67.25, 67.6, 67.75)] == [67.0, 67.5, 67.5, 68.0]


def test_nine_hundred_degrees_are_a_slip():
    [fault] = temperature_faults(900, "/degf")

    assert (fault.pointer, fault.code) == ("/degf", "above-maximum")
    assert "check the reading and its unit" in fault.detail
    assert temperature_faults(60, "/degf") == []


@pytest.mark.parametrize("mass_pct", [1, 5, 10, 20, 30])
def test_the_fit_over_temperature_stays_close_to_the_handbook(mass_pct):
    """Engineering reference table at 20 °C, g/mL; published differences are up to 0.26 percent."""
    assert brine.density(mass_pct, 20) / 1000 == pytest.approx(brine.handbook_density(mass_pct), rel=0.003)


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0, 40))
def test_stronger_brine_is_heavier(one, other, degc):
    low, high = sorted((one, other))

    assert brine.density(low, degc) <= brine.density(high, degc)


@given(st.floats(20, 30), st.floats(1, 39))
def test_expansion_is_the_slope_of_density(mass_pct, degc):
    step = 0.01
    rise = (brine.density(mass_pct, degc - step) - brine.density(mass_pct, degc + step)) / (2 * step)

    assert brine.expansion(mass_pct, degc) == pytest.approx(rise / brine.density(mass_pct, degc), rel=1e-4)


@pytest.mark.parametrize(("mass_pct", "degc"), [(31, 20), (-1, 20), (10, -10), (20, 41)])
def test_outside_the_fit_nothing_is_guessed(mass_pct, degc):
    """10 percent brine at -10 °C is partly ice."""
    with pytest.raises(brine.OutsideTheFit):
        brine.density(mass_pct, degc)


def test_a_stronger_brine_than_the_handbooks_is_refused():
    with pytest.raises(brine.OutsideTheFit, match="0 to 40 %"):
        brine.handbook_density(41)


def test_the_free_surface_decides_how_far_a_level_moves():
    """0.34e-3 per K, 120 gal, 5 K: 3.75 in in a 4 in riser, 0.11 in in a 432 square-inch reservoir."""
    assert level_change(120, 3.4e-4, 5, 12.566) == pytest.approx(3.751, abs=0.001)
    assert level_change(120, 3.4e-4, 5, 432) == pytest.approx(0.109, abs=0.001)
    with pytest.raises(ValueError, match="free surface"):
        level_change(120, 3.4e-4, 5, 0)


def test_after_an_inner_breach_at_the_bottom_the_reservoir_empties():
    """60 in of gasoline, SG 0.74 against 1.25: about 35.5 in."""
    assert settled_level(SPACE) == pytest.approx(35.52)


def test_a_breach_in_the_vapour_space_may_be_silent_or_bubble():
    """3 in of brine, SG 1.25, is 3.75 in of water: the size of a vent valve's setting."""
    found = [
        inner_breach(
            Space(
                reservoir_in=99,
                sg_liquid=1.25,
                sg_product=0.74,
                product_in=60,
                groundwater_in=0,
                ullage_in_wc=each,
            ),
            96,
        )
        for each in (3.7, 3.75, 4)
    ]

    assert found == ["down", "still", "up"]


def test_sea_water_lets_itself_in_sooner_than_fresh_water():
    """Bottom breach, reservoir at 99 in: 123.75 in for fresh water, 120.7 in for SG 1.025."""
    sea = Space(
        reservoir_in=99,
        sg_liquid=1.25,
        sg_product=0.74,
        product_in=60,
        groundwater_in=0,
        sg_groundwater=1.025,
    )

    assert critical_groundwater(SPACE, 0) == 123.75
    assert critical_groundwater(sea, 0) == pytest.approx(120.7, abs=0.05)


def test_a_dry_hole_drains_through_either_wall_at_any_height_under_the_level():
    """Brochure in a county record (maker withheld): inner fracture down, outer fracture down."""
    found = {moves(SPACE, height) for moves in (inner_breach, outer_breach) for height in (0, 48, 96)}

    assert found == {"down"}


@given(st.floats(0, 98), st.floats(0, 200))
def test_the_critical_water_table_parts_down_from_up(height, water):
    space = Space(reservoir_in=99, sg_liquid=1.25, sg_product=0.74, product_in=60, groundwater_in=water)
    critical = critical_groundwater(space, height)

    if abs(water - critical) > 1e-6:
        assert outer_breach(space, height) == ("up" if water > critical else "down")


def test_a_breach_above_the_liquid_moves_nothing_without_pressure():
    assert outer_breach(SPACE, 100) == "still"


def test_product_would_have_to_stand_far_above_the_tank_to_enter():
    assert critical_product(SPACE, 0) == pytest.approx(167.23, abs=0.01)


@given(st.floats(0.01, 10), st.floats(1, 100), st.floats(1, 100))
def test_a_rate_carried_there_and_back_is_the_rate(rate, psi, other):
    there = rate_at_pressure(exact(rate), exact(psi), exact(other))

    assert float(rate_at_pressure(there, exact(other), exact(psi))) == pytest.approx(rate)


def test_four_times_the_pressure_is_twice_the_rate():
    assert rate_at_pressure(Decimal(3), Decimal(10), Decimal(40)) == 6


def test_a_rate_without_pressure_cannot_be_carried():
    with pytest.raises(ValueError, match="above zero"):
        rate_at_pressure(Decimal(3), Decimal(0), Decimal(10))

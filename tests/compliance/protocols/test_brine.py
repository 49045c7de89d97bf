"""First look at a liquid-filled space. Series are synthetic and seeded (tests/benchmarks/brine.py); physics by hand."""

import random

import pytest

from compliance.protocols.brine import INNER_WALL, Interstice, Sample, expansion_of, triage
from equipment.physics.interstice import level_change
from tests.benchmarks import brine as benchmark

RESERVOIR = Interstice(gallons=120, free_surface_in2=432, mass_pct=30)
RISER = Interstice(gallons=120, free_surface_in2=12.566, expansion=3.4e-4)
WARMTH = [10, 11, 13, 12, 11, 9, 8, 9, 10, 12, 13, 12]


def series(space, *, leak_gal_a_day=0.0, warmth=WARMTH, noise=0.02, **columns):
    """A reading a day of a level that follows temperature, leaks, and is read a little off."""
    chance = random.Random(7)
    found = []
    for day, degc in enumerate(warmth):
        warmed = level_change(space.gallons, expansion_of(space, 10), degc - 10, space.free_surface_in2)
        level = 50 + warmed + leak_gal_a_day * day * 231 / space.free_surface_in2 + chance.gauss(0, noise)
        extra = {name: values[day] for name, values in columns.items()}
        found.append(Sample(days=day, level_in=level, degc=degc, **extra))
    return found


def test_a_level_that_goes_and_returns_with_warmth_is_thermal():
    found = triage(series(RISER), RISER)

    assert found.reading == "consistent with temperature"
    assert found.expected_in == pytest.approx(3.751 * 2 / 5, abs=0.001)


def test_a_steady_fall_is_a_loss_with_its_gallons_a_day():
    found = triage(series(RISER, leak_gal_a_day=-0.05), RISER)

    assert found.reading == "loss"
    assert found.gallons_a_day == pytest.approx(-0.05, rel=0.05)


def test_a_steady_rise_is_water_coming_in():
    found = triage(series(RISER, leak_gal_a_day=0.05), RISER)

    assert found.reading == "water coming in"
    assert found.gallons_a_day == pytest.approx(0.05, rel=0.05)


def test_a_fall_with_rising_bottom_water_points_to_the_inner_wall():
    water = [0.0, 0.0, 0.1, 0.1, 0.1, 0.2, 0.2, 0.2, 0.3, 0.3, 0.3, 0.4]

    found = triage(series(RISER, leak_gal_a_day=-0.05, bottom_water_in=water), RISER)

    assert found.reading == "loss"
    assert found.bottom_water_rise_in == pytest.approx(0.4)
    assert INNER_WALL in found.notes


def test_bottom_water_that_rises_beside_a_rising_level_says_nothing_of_the_inner_wall():
    water = [0.0] * 6 + [0.4] * 6

    found = triage(series(RISER, leak_gal_a_day=0.05, bottom_water_in=water), RISER)

    assert found.bottom_water_rise_in == pytest.approx(0.4)
    assert INNER_WALL not in found.notes


def test_a_sure_drift_within_what_temperature_may_explain_is_not_yet_a_loss():
    """0.0005 gal a day in a 4 in riser is 0.1 in over the readings, less than the stick's step."""
    found = triage(series(RISER, leak_gal_a_day=-0.0005, noise=0.001), RISER)

    assert found.reading == "cannot tell"
    assert "keep reading" in found.notes[0]
    assert found.errors_from_zero is not None
    assert found.errors_needed is not None
    assert found.errors_from_zero > found.errors_needed


def test_a_level_that_goes_with_the_tide_marks_an_outer_breach():
    tide = [1, -1, 1, -1, 1, -1, 1, -1, 1, -1, 1, -1]
    moved = [
        Sample(days=each.days, level_in=each.level_in + 0.3 * tide[at], degc=each.degc, tide_ft=tide[at])
        for at, each in enumerate(series(RESERVOIR))
    ]

    found = triage(moved, RESERVOIR)

    assert found.reading == "cannot tell"
    assert found.tide_correlation is not None
    assert found.tide_correlation > 0.9
    assert "tide" in found.notes[0]


def test_a_tide_that_the_level_does_not_follow_changes_nothing():
    tide = [1, -1, -1, 1, 1, -1, -1, 1, 1, -1, -1, 1]

    found = triage(series(RISER, tide_ft=tide), RISER)

    assert found.reading == "consistent with temperature"


def test_too_few_readings_tell_nothing():
    found = triage(series(RISER)[:7], RISER)

    assert found.reading == "cannot tell"
    assert "8 readings" in found.notes[0]


def test_warmth_that_only_runs_with_time_tells_nothing():
    found = triage(series(RISER, warmth=[8 + 0.5 * day for day in range(12)]), RISER)

    assert found.reading == "cannot tell"
    assert "until it turns" in found.notes[0]


def test_a_sudden_step_is_no_steady_drift():
    stepped = [
        Sample(days=each.days, level_in=each.level_in - (1.0 if each.days >= 6 else 0.0), degc=each.degc)
        for each in series(RESERVOIR)
    ]

    found = triage(stepped, RESERVOIR)

    assert found.reading == "cannot tell"
    assert "top-up" in found.notes[0]


def test_the_order_of_the_readings_does_not_matter():
    readings = series(RISER, leak_gal_a_day=-0.05)

    assert triage(readings[::-1], RISER) == triage(readings, RISER)


def test_at_a_steady_temperature_time_alone_is_fitted():
    found = triage(series(RESERVOIR, warmth=[10.0] * 30, leak_gal_a_day=-0.05), RESERVOIR)

    assert found.reading == "loss"


def test_no_leak_free_year_is_called_a_loss():
    years = range(benchmark.FIRST_SEED, benchmark.FIRST_SEED + 25)

    assert [seed for seed in years if benchmark.ever_a_loss(seed, every=4)] == []


def test_a_loss_of_a_twentieth_of_a_gallon_a_day_is_found_within_thirty_days():
    days = [benchmark.found_after(seed) for seed in range(9_000, 9_040)]

    assert sum(day is not None for day in days) >= 38

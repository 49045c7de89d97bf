"""A tank's own chart: interpolation as published, its faults, and how far it parts from geometry."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from equipment.physics.charts import (
    Chart,
    OffTheChart,
    Row,
    chart_device_height,
    chart_faults,
    chart_volume,
    computed_chart,
    differences,
)
from equipment.physics.heads import Heads
from equipment.physics.tank import Tank, volume_at

TANK = Tank(diameter_in=96, length_in=324)
INCHES = computed_chart(TANK)


def test_between_whole_inches_the_volume_is_interpolated():
    """Wisconsin course, step 13: 33 1/4 in between 337 and 345 gal is 339 gal, not the nearest row."""
    chart = Chart((Row(33, 337), Row(34, 345)))

    assert chart_volume(chart, 33.25) == 339


def test_a_row_of_the_chart_is_its_own_volume():
    assert [chart_volume(INCHES, row.depth_in) for row in INCHES.rows] == [row.gal for row in INCHES.rows]


@given(st.floats(0, 96))
def test_an_inch_chart_lies_within_three_gallons_of_its_geometry(depth):
    """A straight line over an inch of a 96 in x 27 ft tank; most at the ends, where the wall curves away."""
    assert abs(chart_volume(INCHES, depth) - volume_at(TANK, depth)) < 3


def test_device_heights_come_from_the_chart_rounded_down():
    assert chart_device_height(computed_chart(TANK, 0.125), 95) == 86.625


def test_a_chart_ends_at_the_diameter_even_between_steps():
    odd = computed_chart(Tank(diameter_in=89.75, length_in=200))

    assert [row.depth_in for row in odd.rows[-2:]] == [89, 89.75]


def test_an_unusual_step_is_refused():
    with pytest.raises(ValueError, match=r"steps by 1, 0\.5, 0\.25, 0\.125 in"):
        computed_chart(TANK, 0.1)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([Row(0, 0)], [("/rows", "missing")]),
        ([Row(0, 0), Row(1, 5), Row(2, 4)], [("/rows/2/gal", "decreasing")]),
        ([Row(0, 0), Row(2, 5), Row(1, 6)], [("/rows/2/depth_in", "order")]),
        ([Row(0, 0), Row(1, 5), Row(1, 6)], [("/rows/2/depth_in", "order")]),
        ([Row(0, 0), Row(97, 5)], [("/rows/1/depth_in", "above-maximum")]),
        ([Row(-1, 0), Row(1, 5)], [("/rows/0/depth_in", "below-minimum")]),
        ([Row(0, -1), Row(1, 5)], [("/rows/0/gal", "below-minimum")]),
        ([Row(0, 0), Row(1, float("nan"))], [("/rows/1", "not-finite")]),
    ],
)
def test_what_is_wrong_with_a_chart_is_named_with_its_row(rows, expected):
    assert [(each.pointer, each.code) for each in chart_faults(rows, diameter_in=96)] == expected


def test_a_flat_stretch_is_no_fault():
    assert chart_faults([Row(0, 0), Row(1, 0), Row(2, 5)], diameter_in=96) == []


def test_a_computed_chart_has_no_fault():
    assert chart_faults(INCHES.rows, diameter_in=96) == []


@pytest.mark.parametrize("depth", [-1, 97])
def test_a_level_that_is_not_on_the_chart_is_refused(depth):
    with pytest.raises(OffTheChart, match="holds 0 to 96 in"):
        chart_volume(INCHES, depth)


def test_a_chart_that_parts_from_geometry_is_flagged_where_it_does():
    domed = computed_chart(Tank(diameter_in=96, length_in=324, heads=Heads(shape="dished")))

    flagged = differences(domed, TANK)

    assert differences(INCHES, TANK) == []
    assert flagged
    assert all(each.percent > 2 and each.chart_gal > each.computed_gal for each in flagged)


def test_the_published_domed_tank_parts_from_a_flat_formula_by_less_than_a_flag():
    """Worksheet B: 77 of 89.75 in is 91.99 percent on the real chart and 91.3 percent by flat ends."""
    flat = Tank(diameter_in=89.75, length_in=1)
    share = volume_at(flat, 77) / volume_at(flat, 89.75)

    assert round(100 * share, 1) == 91.3
    assert 100 * (8_908 / 9_684 - share) < 1

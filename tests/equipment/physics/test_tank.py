"""Tank geometry against handbook fractions, a published paper's volumes, solid geometry, and an independent sum."""

from math import pi

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from equipment.physics.heads import DISHED_FACTOR, Heads, pair_volume, segment_area
from equipment.physics.tank import (
    Tank,
    capacity,
    depth_at_percent,
    depth_of,
    device_height,
    down_to_eighth,
    slope_between,
    volume_at,
)

TEN_THOUSAND = Tank(diameter_in=96, length_in=324)
diameters = st.floats(24, 144)
lengths = st.floats(36, 600)
shares = st.floats(0, 1)
heads = st.one_of(
    st.sampled_from(["flat", "dished", "hemispherical", "ellipsoidal 2:1", "torispherical"]).map(
        lambda shape: Heads(shape=shape)
    ),
    st.builds(
        Heads,
        shape=st.sampled_from(["conical", "ellipsoidal", "spherical"]),
        depth_in=st.floats(1, 12),
    ),
)
FLAT = Tank(diameter_in=1, length_in=1)
tanks = st.builds(Tank, diameter_in=diameters, length_in=lengths, heads=heads)


def share_of_volume(share_of_depth):
    """Part of capacity at a part of the diameter, flat ends."""
    return volume_at(FLAT, share_of_depth) / capacity(FLAT)


@pytest.mark.parametrize(("depth_pct", "volume_pct"), [(16, 10.3), (44, 42.4)])
def test_handbook_fractions_of_a_horizontal_cylinder(depth_pct, volume_pct):
    """Handbook page on gauging a horizontal cylinder, to its printed tenth."""
    assert round(100 * share_of_volume(depth_pct / 100), 1) == volume_pct


@given(shares)
def test_the_two_halves_of_a_cylinder_mirror_each_other(share):
    assert share_of_volume(share) + share_of_volume(1 - share) == pytest.approx(1, abs=1e-7)


@given(tanks, shares, shares)
def test_a_deeper_level_never_holds_less(tank, one, other):
    low, high = sorted((one * tank.diameter_in, other * tank.diameter_in))

    assert volume_at(tank, low) <= volume_at(tank, high) + 1e-6


@settings(max_examples=40, deadline=None)
@given(tanks, st.floats(0.001, 0.999))
def test_the_depth_of_a_volume_holds_that_volume(tank, share):
    gallons = share * capacity(tank)

    assert volume_at(tank, depth_of(tank, gallons)) == pytest.approx(gallons, rel=1e-6)


@given(diameters)
def test_full_heads_are_the_solids_they_are_named_after(diameter):
    """A sphere, half of it, two cones, two caps; a dished pair is k·D³/2."""
    radius = diameter / 2
    full = {
        Heads(shape="flat"): 0.0,
        Heads(shape="hemispherical"): 4 / 3 * pi * radius**3,
        Heads(shape="ellipsoidal 2:1"): 2 / 3 * pi * radius**3,
        Heads(shape="conical", depth_in=10): 2 / 3 * pi * radius**2 * 10,
        Heads(shape="spherical", depth_in=10): pi * 10 / 3 * (3 * radius**2 + 10**2),
        Heads(shape="dished"): DISHED_FACTOR * diameter**3 / 2,
    }

    for shape, volume in full.items():
        assert pair_volume(shape, diameter, diameter) == pytest.approx(volume, rel=1e-6)


@given(diameters, shares)
def test_a_spherical_head_as_deep_as_the_radius_is_a_hemisphere(diameter, share):
    """The slices of one against the closed form of the other."""
    deep = Heads(shape="spherical", depth_in=diameter / 2)
    expected = pair_volume(Heads(shape="hemispherical"), diameter, share * diameter)

    assert pair_volume(deep, diameter, share * diameter) == pytest.approx(expected, rel=1e-4, abs=1e-2)


@given(heads, diameters)
def test_half_full_heads_hold_half(shape, diameter):
    full = pair_volume(shape, diameter, diameter)

    assert pair_volume(shape, diameter, diameter / 2) == pytest.approx(full / 2, rel=1e-5, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(diameters, lengths, st.floats(-0.02, 0.02), shares, shares)
def test_a_tilted_tank_holds_the_sum_of_its_slices(diameter, length, slope, share, place):
    """An independent sum of a thousand level slices along the axis."""
    assume(abs(slope) > 1e-5)
    tank = Tank(diameter_in=diameter, length_in=length, slope=slope, gauge_from_low_end_in=place * length)
    depth, wide = share * diameter, length / 1000
    slices = sum(
        segment_area(diameter / 2, depth + slope * (place * length - (at + 0.5) * wide)) * wide
        for at in range(1000)
    )

    assert volume_at(tank, depth) == pytest.approx(slices / 231, rel=1e-4, abs=1e-2)


def test_a_barely_tilted_tank_is_a_level_one():
    tilted = Tank(diameter_in=96, length_in=324, slope=1e-6)

    assert volume_at(tilted, 30) == pytest.approx(volume_at(TEN_THOUSAND, 30), rel=1e-6)


def test_device_heights_are_rounded_down_to_the_eighth():
    """96 in x 27 ft: 80.978 in and 86.658 in by the segment formula."""
    assert (device_height(TEN_THOUSAND, 90), device_height(TEN_THOUSAND, 95)) == (80.875, 86.625)
    assert volume_at(TEN_THOUSAND, 86.625) < 0.95 * capacity(TEN_THOUSAND) < volume_at(TEN_THOUSAND, 86.75)


@given(st.floats(0, 200))
def test_down_to_the_eighth_never_goes_up(inches):
    assert 0 <= inches - down_to_eighth(inches) < 0.125


def test_ninety_percent_of_height_is_more_than_ninety_percent_of_volume():
    """The trap behind an alarm set by height: 94.8 percent of volume."""
    assert share_of_volume(0.9) == pytest.approx(0.948, abs=5e-4)
    assert depth_at_percent(Tank(diameter_in=1, length_in=1), 90) == pytest.approx(0.843524, abs=1e-6)


def test_a_slope_is_read_from_two_openings():
    """1 in in 10 ft."""
    assert slope_between(31, 30, 120) == pytest.approx(1 / 120)
    with pytest.raises(ValueError, match="distance"):
        slope_between(31, 30, 0)


@pytest.mark.parametrize("depth", [-0.125, 96.125])
def test_a_level_outside_the_tank_is_refused(depth):
    with pytest.raises(ValueError, match="outside the tank: 0 to 96 in"):
        volume_at(TEN_THOUSAND, depth)


def test_a_volume_that_the_tank_cannot_hold_has_no_depth():
    with pytest.raises(ValueError, match="shows at no depth"):
        depth_of(TEN_THOUSAND, 10_153)


@pytest.mark.parametrize("size", [{"diameter_in": 0, "length_in": 1}, {"diameter_in": 1, "length_in": -1}])
def test_a_tank_without_a_size_is_refused(size):
    with pytest.raises(ValueError, match="above zero"):
        Tank(**size)


def test_a_gauge_at_mid_length_needs_no_correction_for_a_small_tilt():
    """Both ends wetted and neither full: what the low end gains the high end loses, but for the curve of the wall."""
    tilted = Tank(diameter_in=96, length_in=324, slope=0.01, gauge_from_low_end_in=162)

    assert volume_at(tilted, 48) == pytest.approx(volume_at(TEN_THOUSAND, 48), rel=1e-9)
    assert volume_at(tilted, 30) == pytest.approx(volume_at(TEN_THOUSAND, 30), abs=2)

"""Tank volumes against the `fluids` library and against SciPy's numerical integration, over random tanks.

fluids 1.3.1 follows the published paper on partly filled tanks; its closed forms share no line with ours. A tilted tank
is in neither: SciPy integrates level discs along the axis, each under the depth that the tilt gives it there.
"""

from functools import partial
from math import acos, sqrt

import pytest
from fluids.geometry import V_from_h
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from equipment.physics.geometry import STEEPEST
from equipment.physics.heads import Heads, HeadShape, pair_volume
from equipment.physics.tank import Tank, capacity, volume_at

CUBIC_INCHES = 231
# Closed forms differ by the last bits of a double; spherical and torispherical ends are summed in slices on both sides.
CLOSED_FORM, SUMMED = 1e-9, 1e-6
# A dished pair is a forum's short formula for caps of a sphere as wide as the tank: right when full, and otherwise
# within 3 percent of the ends, which is a tenth of a percent of a tank.
SHORT_FORMULA = 0.03
# Each end of a tilted tank is taken at the depth of its own joint. The tilt along the end itself is left out: at the
# steepest slope of 0.05 and with half balls, 0.05 · 3/8 · R deep over half a circle, which is 0.7 percent of the pair.
ENDS_TILT = 0.01

EXACT: tuple[HeadShape, ...] = ("flat", "hemispherical", "ellipsoidal 2:1", "ellipsoidal", "conical", "guppy")
DEEP = ("ellipsoidal", "conical", "guppy", "spherical")
diameters, lengths = st.floats(24, 144), st.floats(36, 600)
# The thin film at the bottom and the last film under the top are where formulas lose digits. Under a ten-thousandth of
# an inch the library itself takes the arc cosine of more than one.
FILM = 1e-6
shares = st.one_of(
    st.floats(FILM, 1 - FILM),
    st.floats(FILM, 1e-4),
    st.floats(1 - 1e-4, 1 - FILM),
    st.sampled_from([0, 0.5, 1]),
)
dish_ratios, knuckle_ratios = st.floats(0.6, 2.0), st.floats(0.02, 0.2)
slopes = st.floats(-STEEPEST, STEEPEST)


@st.composite
def tanks(draw, shape: HeadShape) -> Tank:
    diameter = draw(diameters)
    deep = draw(st.floats(0.01, 0.49)) * diameter if shape in DEEP else 0.0
    heads = Heads(
        shape=shape, depth_in=deep, dish_ratio=draw(dish_ratios), knuckle_ratio=draw(knuckle_ratios)
    )
    return Tank(diameter_in=diameter, length_in=draw(lengths), heads=heads)


def by_fluids(tank: Tank, depth: float) -> float:
    """Gallons, with both ends alike; a depth of nothing is the library's word for flat."""
    heads, width = tank.heads, tank.diameter_in
    side, deep = {
        "flat": (None, 0.0),
        "hemispherical": ("spherical", width / 2),
        "ellipsoidal 2:1": ("ellipsoidal", width / 4),
        "dished": ("spherical", width * (1 - sqrt(3) / 2)),
    }.get(heads.shape, (heads.shape, heads.depth_in))
    ends = {f"side{end}": side for end in "AB"} | {f"side{end}_a": deep for end in "AB"}
    if side == "torispherical":
        ratios = {"f": heads.dish_ratio, "k": heads.knuckle_ratio}
        ends = {f"side{end}": side for end in "AB"}
        ends |= {f"side{end}_{name}": ratio for end in "AB" for name, ratio in ratios.items()}
    return V_from_h(depth, width, tank.length_in, horizontal=True, **ends) / CUBIC_INCHES


@pytest.mark.parametrize("shape", EXACT)
@given(st.data())
def test_a_tank_with_ends_of_a_closed_form_holds_what_fluids_says(shape, data):
    tank, share = data.draw(tanks(shape)), data.draw(shares)
    depth = share * tank.diameter_in

    assert volume_at(tank, depth) == pytest.approx(
        by_fluids(tank, depth), rel=CLOSED_FORM, abs=CLOSED_FORM * capacity(tank)
    )


@pytest.mark.parametrize("shape", ["spherical", "torispherical"])
@settings(deadline=None)
@given(st.data())
def test_a_tank_with_summed_ends_holds_what_fluids_says(shape, data):
    tank, share = data.draw(tanks(shape)), data.draw(shares)
    depth = share * tank.diameter_in

    assert volume_at(tank, depth) == pytest.approx(by_fluids(tank, depth), abs=SUMMED * capacity(tank))


@given(tanks("dished"), shares)
def test_a_dished_pair_is_close_to_the_sphere_that_its_formula_stands_for(tank, share):
    depth, ends = share * tank.diameter_in, pair_volume(tank.heads, tank.diameter_in, tank.diameter_in)

    assert volume_at(tank, depth) == pytest.approx(
        by_fluids(tank, depth), abs=SHORT_FORMULA * ends / CUBIC_INCHES
    )
    assert capacity(tank) == pytest.approx(by_fluids(tank, tank.diameter_in), rel=1e-6)


def disc(radius: float, depth: float) -> float:
    """Square inches of a circle under a level: the handbook's segment, r²·acos((r-h)/r) - (r-h)·√(2rh - h²)."""
    if radius <= 0 or depth <= 0:
        return 0.0
    if depth >= 2 * radius:
        depth = 2 * radius
    rest = radius - depth
    return radius**2 * acos(rest / radius) - rest * sqrt(max(0.0, 2 * radius * depth - depth**2))


def integrated(tank: Tank, depth: float, out: float) -> float:
    """Gallons of a tilted tank whose two ends are half ellipsoids `out` inches deep; zero is flat."""
    radius, length = tank.diameter_in / 2, tank.length_in
    gauge = tank.gauge_from_low_end_in or 0.0

    def under(along: float) -> float:
        """Depth over the cylinder's bottom line, `along` inches from the low end."""
        return depth + tank.slope * (gauge - along)

    def in_cylinder(along: float) -> float:
        return disc(radius, under(along))

    def in_end(along: float, *, joint: float, outward: float) -> float:
        width = radius * sqrt(max(0.0, 1 - (along / out) ** 2))
        return disc(width, under(joint + outward * along) - radius + width)

    kinks = [gauge + (depth - at) / tank.slope for at in (0.0, 2 * radius)]
    inside = [each for each in kinks if 0 < each < length]
    found = quad(in_cylinder, 0, length, points=inside or None, limit=200)[0]
    if out:
        found += sum(
            quad(partial(in_end, joint=joint, outward=outward), 0, out, limit=200)[0]
            for joint, outward in ((0.0, -1), (length, 1))
        )
    return found / CUBIC_INCHES


@settings(max_examples=40, deadline=None)
@given(tanks("flat"), slopes, shares, st.floats(0, 1))
def test_a_tilted_tank_with_flat_ends_holds_what_scipy_integrates(level, slope, share, place):
    assume(abs(slope) > 1e-4)
    tank = Tank(
        diameter_in=level.diameter_in,
        length_in=level.length_in,
        slope=slope,
        gauge_from_low_end_in=place * level.length_in,
    )
    depth = share * tank.diameter_in

    assert volume_at(tank, depth) == pytest.approx(
        integrated(tank, depth, 0.0), rel=1e-6, abs=1e-6 * capacity(level)
    )


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([("hemispherical", 0.5), ("ellipsoidal 2:1", 0.25)]),
    diameters,
    lengths,
    slopes,
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_a_tilted_tank_with_round_ends_comes_close_to_what_scipy_integrates(
    ends, diameter, length, slope, share, place
):
    """Close, as its docstring says: the miss is bounded by the tilt along an end and by the end's own size."""
    assume(abs(slope) > 1e-4)
    shape, part = ends
    tank = Tank(
        diameter_in=diameter,
        length_in=length,
        heads=Heads(shape=shape),
        slope=slope,
        gauge_from_low_end_in=place * length,
    )
    depth = share * diameter
    pair = pair_volume(tank.heads, diameter, diameter) / CUBIC_INCHES

    found, wanted = volume_at(tank, depth), integrated(tank, depth, part * diameter)

    assert abs(found - wanted) <= ENDS_TILT * pair


@pytest.mark.parametrize(
    ("depth_pct", "volume_pct"),
    [(5, 1.8693), (10, 5.2044), (20, 14.2378), (25, 19.5501), (30, 25.2316), (40, 37.3530), (90, 94.7956)],
)
def test_handbook_shares_of_a_flat_cylinder_are_the_librarys_and_ours(depth_pct, volume_pct):
    """Shares of volume at a share of depth, the table of the reference to its six places, and fluids between."""
    tank = Tank(diameter_in=96, length_in=324)
    depth = 0.96 * depth_pct

    assert 100 * volume_at(tank, depth) / capacity(tank) == pytest.approx(volume_pct, abs=1e-4)
    assert 100 * by_fluids(tank, depth) / by_fluids(tank, 96) == pytest.approx(volume_pct, abs=1e-4)

"""A horizontal cylindrical tank: depth to volume and back, level or tilted, and the depth at a share of capacity.

Formulas: circular segment; a tilted tank integrates the segment exactly along its axis. Device heights are rounded
down to the eighth of an inch, so that the set point never exceeds its limit.
"""

from math import acos, floor, pi, sqrt

import msgspec

from equipment.physics.heads import Heads, pair_volume, segment_area
from equipment.physics.units import CUBIC_INCHES_A_GALLON

LEVEL_SLOPE = 1e-7


class Tank(msgspec.Struct, frozen=True, kw_only=True):
    """Inside dimensions in inches. `length_in` is the straight cylinder without the heads.

    `slope` is the fall over the length (in/in), `gauge_from_low_end_in` where depth is read, from the lower end of
    the cylinder; None is mid-length, where a small tilt does not show.
    """

    diameter_in: float
    length_in: float
    heads: Heads = Heads()
    slope: float = 0.0
    gauge_from_low_end_in: float | None = None

    def __post_init__(self) -> None:
        if not (self.diameter_in > 0 and self.length_in > 0):
            raise ValueError(
                "a tank's diameter and length are above zero; measure them in inches inside the shell"
            )


def capacity(tank: Tank) -> float:
    """Gallons of the full tank."""
    return _level_volume(tank, tank.diameter_in)


def volume_at(tank: Tank, depth: float) -> float:
    """Gallons at this depth under the gauge. ValueError when the depth is below zero or above the diameter."""
    if not 0 <= depth <= tank.diameter_in:
        raise ValueError(f"depth {depth:g} in is outside the tank: 0 to {tank.diameter_in:g} in")
    return _tilted_volume(tank, depth) if abs(tank.slope) > LEVEL_SLOPE else _level_volume(tank, depth)


def depth_of(tank: Tank, gallons: float) -> float:
    """Depth in inches under the gauge at which the tank holds this volume.

    ValueError when no depth under the gauge shows it: less than nothing, more than the tank holds there.
    """
    low, high = 0.0, tank.diameter_in
    if not volume_at(tank, low) <= gallons <= volume_at(tank, high):
        raise ValueError(
            f"{gallons:g} gal shows at no depth of this tank; it holds "
            f"{volume_at(tank, low):.1f} to {volume_at(tank, high):.1f} gal there"
        )
    while (middle := (low + high) / 2) not in (low, high):
        if volume_at(tank, middle) < gallons:
            low = middle
        else:
            high = middle
    return high


def depth_at_percent(tank: Tank, percent: float) -> float:
    """Depth in inches at which the tank holds this share of capacity by volume, not rounded."""
    return depth_of(tank, capacity(tank) * percent / 100)


def device_height(tank: Tank, percent: float) -> float:
    """The highest eighth of an inch at which the tank holds no more than this share of capacity."""
    return down_to_eighth(depth_at_percent(tank, percent))


def down_to_eighth(inches: float) -> float:
    return floor(inches * 8) / 8


def slope_between(low_depth: float, high_depth: float, distance: float) -> float:
    """Slope from two stick readings at openings `distance` inches apart, the deeper one first."""
    if distance <= 0:
        raise ValueError("the distance between the two openings is above zero")
    return (low_depth - high_depth) / distance


def _level_volume(tank: Tank, depth: float) -> float:
    cylinder = segment_area(tank.diameter_in / 2, depth) * tank.length_in
    return (cylinder + pair_volume(tank.heads, tank.diameter_in, depth)) / CUBIC_INCHES_A_GALLON


def _tilted_volume(tank: Tank, depth: float) -> float:
    """Each head is taken at the depth of its own end: exact for flat ends, close for others at small slopes."""
    gauge = _gauge(tank)
    low_end = depth + tank.slope * gauge
    high_end = depth - tank.slope * (tank.length_in - gauge)
    radius = tank.diameter_in / 2
    cylinder = (_summed_segment(radius, low_end) - _summed_segment(radius, high_end)) / tank.slope
    ends = [pair_volume(tank.heads, tank.diameter_in, each) / 2 for each in (low_end, high_end)]
    return (cylinder + sum(ends)) / CUBIC_INCHES_A_GALLON


def _gauge(tank: Tank) -> float:
    return tank.length_in / 2 if tank.gauge_from_low_end_in is None else tank.gauge_from_low_end_in


def _summed_segment(radius: float, depth: float) -> float:
    """The integral of the segment's area from the bottom up to a depth, which may lie outside the circle."""
    if depth <= 0:
        return 0.0
    within = min(depth, 2 * radius)
    above = radius - within
    root = sqrt(max(0.0, radius**2 - above**2))
    inside = radius**2 * (root - above * acos(max(-1.0, min(1.0, above / radius)))) - root**3 / 3
    return inside + pi * radius**2 * (depth - within)

"""What somebody states about the shape of a tank, checked before it is computed with.

The outer bounds only catch a slip of the pen or of the unit; no published limit is meant by them.
"""

from collections.abc import Iterator

import msgspec

from equipment.faults import Fault
from equipment.physics.heads import Heads
from equipment.physics.tank import Tank, slope_between

WIDEST_IN, LONGEST_IN = 480.0, 4_800.0
STEEPEST = 0.05
DEEP_HEADS = ("ellipsoidal", "conical", "guppy", "spherical")


class StickPair(msgspec.Struct, frozen=True, kw_only=True):
    """Depths of one level, read in the same minute at two openings: the deeper one stands over the low end."""

    low_end_in: float
    high_end_in: float
    apart_in: float


class Shape(msgspec.Struct, frozen=True, kw_only=True):
    """A tank's shape as stated; None is not stated. Inches, inside. A tilt is a slope (in/in) or two stick readings."""

    diameter_in: float | None = None
    length_in: float | None = None
    heads: Heads = Heads()
    slope: float | None = None
    stick_readings: StickPair | None = None
    gauge_from_low_end_in: float | None = None


def shape_faults(shape: Shape) -> list[Fault]:
    """What keeps a stated shape from being computed with; pointers lead into the shape."""
    return [*_size_faults(shape), *_head_faults(shape), *_tilt_faults(shape)]


def tank_of(shape: Shape) -> Tank:
    """The tank of a shape without faults."""
    if shape.diameter_in is None or shape.length_in is None:
        raise ValueError("a tank has a diameter and a length")
    readings = shape.stick_readings
    slope = shape.slope or 0.0
    if readings is not None:
        slope = slope_between(readings.low_end_in, readings.high_end_in, readings.apart_in)
    return Tank(
        diameter_in=shape.diameter_in,
        length_in=shape.length_in,
        heads=shape.heads,
        slope=slope,
        gauge_from_low_end_in=shape.gauge_from_low_end_in,
    )


def _size_faults(shape: Shape) -> Iterator[Fault]:
    for name, most in (("diameter_in", WIDEST_IN), ("length_in", LONGEST_IN)):
        size = getattr(shape, name)
        if size is None:
            yield Fault(f"/{name}", f"measure it inside the shell and state it as {name}", "missing")
        elif size <= 0:
            yield Fault(f"/{name}", "is above zero; measure it inside the shell, in inches", "below-minimum")
        elif size > most:
            yield Fault(f"/{name}", f"{size:g} in is above {most:g} in; check the unit", "above-maximum")


def _head_faults(shape: Shape) -> Iterator[Fault]:
    heads = shape.heads
    radius = shape.diameter_in / 2 if shape.diameter_in and shape.diameter_in > 0 else None
    if heads.shape not in DEEP_HEADS and heads.depth_in:
        detail = f"the shape of {heads.shape} heads says how deep they are; leave depth_in out"
        yield Fault("/heads/depth_in", detail, "unexpected")
    if heads.shape in DEEP_HEADS and heads.depth_in <= 0:
        detail = f"say how far one {heads.shape} head stands out of the cylinder, in inches"
        yield Fault("/heads/depth_in", detail, "missing")
    if radius and heads.depth_in > 2 * radius:
        yield Fault("/heads/depth_in", "a head is no deeper than the tank is wide; check it", "above-maximum")
    elif radius and heads.shape == "spherical" and heads.depth_in > radius:
        yield Fault("/heads/depth_in", f"half a ball is {radius:g} in deep; check the depth", "above-maximum")
    if heads.shape == "torispherical":
        yield from _dish_faults(heads)


def _dish_faults(heads: Heads) -> Iterator[Fault]:
    if not 0.5 < heads.dish_ratio <= 10:
        detail = "the dish's radius is more than half the diameter, and 10 diameters at most: ratio 0.5 to 10"
        yield Fault("/heads/dish_ratio", detail, "out-of-range")
    if not 0 < heads.knuckle_ratio < 0.5:
        detail = "the knuckle's radius is above zero and less than half the diameter: ratio 0 to 0.5"
        yield Fault("/heads/knuckle_ratio", detail, "out-of-range")


def _tilt_faults(shape: Shape) -> Iterator[Fault]:
    readings, gauge = shape.stick_readings, shape.gauge_from_low_end_in
    if readings is not None and shape.slope is not None:
        yield Fault("/slope", "state the slope or the two readings, not both", "unexpected")
    elif readings is not None:
        yield from _reading_faults(readings, shape.diameter_in)
    elif shape.slope is not None and not 0 <= shape.slope <= STEEPEST:
        detail = f"inches of fall an inch of length, from 0 to {STEEPEST:g}; check it"
        yield Fault("/slope", detail, "out-of-range")
    if gauge is not None and not 0 <= gauge <= (shape.length_in or LONGEST_IN):
        yield Fault("/gauge_from_low_end_in", "lies outside the cylinder; check it", "out-of-range")


def _reading_faults(readings: StickPair, diameter: float | None) -> Iterator[Fault]:
    dry = [
        Fault(
            f"/stick_readings/{name}",
            "both ends stand in product and below the top, or the two readings show no slope",
            "out-of-range",
        )
        for name in ("low_end_in", "high_end_in")
        if not 0 < getattr(readings, name) < (diameter or WIDEST_IN)
    ]
    if readings.apart_in <= 0:
        yield Fault("/stick_readings/apart_in", "the openings lie apart: above zero inches", "below-minimum")
    elif dry:
        yield from dry
    else:
        yield from _steepness_faults(readings)


def _steepness_faults(readings: StickPair) -> Iterator[Fault]:
    slope = slope_between(readings.low_end_in, readings.high_end_in, readings.apart_in)
    if slope < 0:
        detail = "the reading at the low end is the deeper one; swap the two"
        yield Fault("/stick_readings/low_end_in", detail, "order")
    elif slope > STEEPEST:
        detail = f"these readings make a slope of {slope:.3f} in/in; no tank lies so, check them"
        yield Fault("/stick_readings/low_end_in", detail, "above-maximum")

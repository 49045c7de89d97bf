"""Volume in the two ends of a horizontal tank, by liquid depth.

Shapes with a closed form use it; spherical and torispherical ends are summed slice by slice along the axis.
Formulas: "Calculating Tank Volume" (published paper on partially filled horizontal tanks); k for dished heads
from an engineering forum's summary.
"""

from collections.abc import Callable
from itertools import pairwise
from math import acos, acosh, asin, cos, pi, sin, sqrt
from typing import Literal

import msgspec

HeadShape = Literal[
    "flat",
    "dished",
    "hemispherical",
    "ellipsoidal 2:1",
    "ellipsoidal",
    "conical",
    "guppy",
    "spherical",
    "torispherical",
]
DISHED_FACTOR = 0.215483
SLICES = 64


class Heads(msgspec.Struct, frozen=True, kw_only=True):
    """Both ends of a tank, alike.

    `depth_in` is how far one head stands out of the cylinder (ellipsoidal, conical, guppy, spherical).
    `dish_ratio` and `knuckle_ratio` are the radii of a torispherical head over the tank's diameter.
    """

    shape: HeadShape = "flat"
    depth_in: float = 0.0
    dish_ratio: float = 1.0
    knuckle_ratio: float = 0.06


def pair_volume(heads: Heads, diameter: float, depth: float) -> float:
    """Cubic inches in both heads when liquid stands `depth` inches deep; depth is held to 0..diameter."""
    return _SHAPES[heads.shape](heads, diameter / 2, min(max(depth, 0.0), diameter))


def segment_area(radius: float, depth: float) -> float:
    """Square inches of a circle of this radius under a level `depth` above its lowest point.

    By the half angle, since `r - depth` loses a thin film of liquid to rounding and may then tell less than nothing.
    """
    if depth <= 0 or radius <= 0:
        return 0.0
    if depth >= 2 * radius:
        return pi * radius**2
    angle = 2 * asin(sqrt(depth / (2 * radius)))
    return max(0.0, radius**2 * (angle - sin(2 * angle) / 2))


def _ellipsoidal(out: float, radius: float, depth: float) -> float:
    return pi * out * depth**2 * (1 - depth / (3 * radius))


def _conical(out: float, radius: float, depth: float) -> float:
    part = abs(radius - depth) / radius
    if part == 0:
        return pi * out * radius**2 / 3
    lower = acos(part) + part**3 * acosh(1 / part) - 2 * part * sqrt(1 - part**2)
    return 2 * out * radius**2 / 3 * (lower if depth < radius else pi - lower)


def _guppy(out: float, radius: float, depth: float) -> float:
    root = sqrt(max(0.0, 2 * radius * depth - depth**2))
    turned = 2 * out * radius**2 / 3 * acos(1 - depth / radius)
    return turned + 2 * out * root / (9 * radius) * (2 * depth - 3 * radius) * (depth + radius)


def _spherical(out: float, radius: float, depth: float) -> float:
    if out <= 0:
        return 0.0
    ball = (radius**2 + out**2) / (2 * out)

    def half_width(along: float) -> float:
        return sqrt(max(0.0, ball**2 - (along + ball - out) ** 2))

    below = abs(radius - depth)
    kink = sqrt(max(0.0, ball**2 - below**2)) - ball + out
    return 2 * _slices(half_width, radius, depth, (0.0, kink, out))


def _torispherical(heads: Heads, radius: float, depth: float) -> float:
    dish, knuckle = heads.dish_ratio * 2 * radius, heads.knuckle_ratio * 2 * radius
    angle = asin((radius - knuckle) / (dish - knuckle))
    joint = knuckle * cos(angle)
    out = joint + dish * (1 - cos(angle))

    def half_width(along: float) -> float:
        if along < joint:
            return radius - knuckle + sqrt(max(0.0, knuckle**2 - along**2))
        return sqrt(max(0.0, dish**2 - (along + dish - out) ** 2))

    below = abs(radius - depth)
    kink = sqrt(max(0.0, dish**2 - below**2)) - dish + out
    return 2 * _slices(half_width, radius, depth, (0.0, joint, max(joint, kink), out))


def _slices(
    half_width: Callable[[float], float], radius: float, depth: float, stops: tuple[float, ...]
) -> float:
    """Simpson's rule between stops at which the shape bends; points crowd at the stops, where slopes are steep."""

    def area(along: float) -> float:
        own = half_width(along)
        return segment_area(own, depth - radius + own)

    total = 0.0
    for start, end in pairwise(stops):
        for index in range(SLICES + 1):
            part = index / SLICES
            weight = 1 if index in (0, SLICES) else 4 if index % 2 else 2
            spread = 6 * part * (1 - part) * (end - start)
            total += weight * spread * area(start + (end - start) * part**2 * (3 - 2 * part)) / (3 * SLICES)
    return total


_SHAPES: dict[HeadShape, Callable[[Heads, float, float], float]] = {
    "flat": lambda heads, radius, depth: 0.0,
    "dished": lambda heads, radius, depth: DISHED_FACTOR * depth**2 * (3 * radius - depth),
    "hemispherical": lambda heads, radius, depth: _ellipsoidal(radius, radius, depth),
    "ellipsoidal 2:1": lambda heads, radius, depth: _ellipsoidal(radius / 2, radius, depth),
    "ellipsoidal": lambda heads, radius, depth: _ellipsoidal(heads.depth_in, radius, depth),
    "conical": lambda heads, radius, depth: _conical(heads.depth_in, radius, depth),
    "guppy": lambda heads, radius, depth: _guppy(heads.depth_in, radius, depth),
    "spherical": lambda heads, radius, depth: _spherical(heads.depth_in, radius, depth),
    "torispherical": _torispherical,
}

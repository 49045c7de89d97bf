"""A liquid-filled space between walls: how its level answers to temperature, and which way a breach moves it.

Hydrostatics at a breach at height z: the liquid presses with its density times (reservoir level - z), product and
ground water with theirs; the flow goes to the lower pressure. With brine of specific gravity 1.30 that is the published
rule that ground water enters only where its head is 30 percent above the brine's (brochure in a county record, maker
withheld). Heights are inches above the tank bottom, specific gravities against fresh water.
"""

from math import isclose
from typing import Literal

import msgspec

from equipment.physics.units import CUBIC_INCHES_A_GALLON

Direction = Literal["up", "down", "still"]
Wall = Literal["inner", "outer"]


class Space(msgspec.Struct, frozen=True, kw_only=True):
    """The liquid between the walls and what stands beside it.

    `ullage_in_wc` is the gauge pressure in the tank's vapour space, in inches of water.
    """

    reservoir_in: float
    sg_liquid: float
    sg_product: float
    product_in: float
    groundwater_in: float
    sg_groundwater: float = 1.0
    ullage_in_wc: float = 0.0


def volume_change(gallons: float, expansion: float, kelvin: float) -> float:
    """Gallons by which the liquid grows; expansion per kelvin."""
    return expansion * gallons * kelvin


def level_change(gallons: float, expansion: float, kelvin: float, free_surface_in2: float) -> float:
    """Inches by which its level moves: the free surface, not the liquid, decides. ValueError without a surface."""
    if free_surface_in2 <= 0:
        raise ValueError(
            "the free surface is above zero; measure the riser or reservoir where the level stands"
        )
    return volume_change(gallons, expansion, kelvin) * CUBIC_INCHES_A_GALLON / free_surface_in2


def gallons_of(inches: float, free_surface_in2: float) -> float:
    """Gallons that a change of level stands for."""
    return inches * free_surface_in2 / CUBIC_INCHES_A_GALLON


def inner_breach(space: Space, height_in: float) -> Direction:
    """Where the level goes when the inner wall is open at this height."""
    product = space.sg_product * max(0.0, space.product_in - height_in)
    return _towards(_own_head(space, height_in), product + space.ullage_in_wc)


def outer_breach(space: Space, height_in: float) -> Direction:
    """Where the level goes when the outer wall is open at this height."""
    return _towards(
        _own_head(space, height_in), space.sg_groundwater * max(0.0, space.groundwater_in - height_in)
    )


def critical_groundwater(space: Space, height_in: float) -> float:
    """The water table at which an outer breach at this height is silent; above it water comes in."""
    return height_in + _own_head(space, height_in) / space.sg_groundwater


def critical_product(space: Space, height_in: float) -> float:
    """How high product must stand before it could enter an inner breach at this height."""
    return height_in + _own_head(space, height_in) / space.sg_product


def settled_level(space: Space) -> float:
    """Where the liquid comes to rest after an inner breach at the bottom, the product staying as it is."""
    return space.product_in * space.sg_product / space.sg_liquid


def _own_head(space: Space, height_in: float) -> float:
    return space.sg_liquid * max(0.0, space.reservoir_in - height_in)


def _towards(own: float, other: float) -> Direction:
    if isclose(own, other, rel_tol=1e-12):
        return "still"
    return "down" if own > other else "up"

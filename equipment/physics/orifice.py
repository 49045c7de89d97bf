"""A leak's rate at another pressure: flow through a small hole goes with the square root of the pressure.

Source: EPA UST Technical Compendium, Release Detection, question 3.
"""

from math import sqrt


def rate_at_pressure(rate: float, psi: float, wanted_psi: float) -> float:
    """The rate, in its own unit, that the same hole gives at `wanted_psi`. Pressures are gauge, above zero.

    Raises ValueError for a pressure that is not above zero: without pressure there is no flow to scale.
    """
    if psi <= 0 or wanted_psi < 0:
        raise ValueError(f"pressures must be above zero, not {psi:g} and {wanted_psi:g} psi")
    return rate * sqrt(wanted_psi / psi)

"""A leak's rate at another pressure: flow through a small hole goes with the square root of the pressure.

Source: EPA UST Technical Compendium, Release Detection, question 3.
"""

from decimal import Decimal


def rate_at_pressure(rate: Decimal, psi: Decimal, wanted_psi: Decimal) -> Decimal:
    """The rate, in its own unit, that the same hole gives at `wanted_psi`. Gauge pressures, or both over a third one.

    Raises ValueError for a pressure that is not above zero: without pressure there is no flow to scale.
    """
    if psi <= 0 or wanted_psi < 0:
        raise ValueError(f"pressures must be above zero, not {psi:f} and {wanted_psi:f} psi")
    return rate * (wanted_psi / psi).sqrt()

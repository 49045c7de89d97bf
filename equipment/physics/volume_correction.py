"""Product volume at its base temperature, and API gravity.

ASTM D1250 tables 6B and 54B (API MPMS chapter 11.1, 1980): VCF = exp(-a·dt·(1 + 0.8·a·dt)), a = K0/d² + K1/d, in the
transition band a = A + B/d². Constants agree across several public implementations; those at 15 °C are 1.8 times those
at 60 °F. Band edges differ by a kilogram between sources. It explains a delivery day; inventory control itself is on
gross gallons and is never corrected.
"""

from decimal import ROUND_HALF_UP, Decimal
from math import exp
from typing import Literal

import msgspec

from equipment.faults import Fault

Base = Literal["60 F", "15 C"]
WATER_AT_60F = 999.012
TRANSITION_FROM, KEROSENE_FROM, DIESEL_FROM = 770.0, 788.0, 839.0
# The tables begin at -58 °F (API MPMS 11.1 of 2004, from memory, unverified) and go on to 302, but no motor fuel is
# stored or delivered at a marina over 200 (common practice, no source).
LOWEST_DEGF, HIGHEST_DEGF = -58.0, 200.0


class Band(msgspec.Struct, frozen=True):
    """a = inverse_square/d² + inverse/d + constant, per °F at 60 °F; `at` gives the same constants at another base."""

    inverse_square: float
    inverse: float
    constant: float = 0.0

    def at(self, base: Base) -> "Band":
        """Per degree of the base's own scale."""
        degree = BASES[base][1]
        return Band(self.inverse_square * degree, self.inverse * degree, self.constant * degree)


GASOLINE = Band(192.4571, 0.2438)
TRANSITION = Band(1489.0670, 0.0, -0.0018684)
KEROSENE = Band(330.3010, 0.0)
DIESEL = Band(103.8720, 0.2701)
BASES: dict[Base, tuple[float, float]] = {"60 F": (60.0, 1.0), "15 C": (15.0, 1.8)}


def expansion(density: float, base: Base) -> float:
    """Thermal expansion at the base temperature, per °F or per °C; density in kg/m³ at that base."""
    band = _band(density).at(base)
    return band.inverse_square / density**2 + band.inverse / density + band.constant


def volume_correction(density: float, temperature: float, base: Base) -> float:
    """Factor that turns gallons at `temperature` into gallons at the base, not rounded."""
    change = expansion(density, base) * (temperature - BASES[base][0])
    return exp(-change * (1 + 0.8 * change))


def volume_correction_api(api: float, degf: float) -> float:
    """The factor as the printed table gives it: entered at the half degree of either, to four decimals."""
    density = density_of_api(rounded_api(api))
    return round(volume_correction(density, rounded_degf(degf), "60 F"), 4)


def growth(gallons: float, api: float, from_degf: float, to_degf: float) -> float:
    """Gallons by which a load grows in the tank (negative: shrinks). It explains a day and changes no figure."""
    density = density_of_api(api)
    net = gallons * volume_correction(density, from_degf, "60 F")
    return net / volume_correction(density, to_degf, "60 F") - gallons


def density_of_api(api: float) -> float:
    """kg/m³ at 60 °F."""
    return 141.5 * WATER_AT_60F / (131.5 + api)


def api_of_density(density: float) -> float:
    """API gravity of a density in kg/m³ at 60 °F."""
    return 141.5 * WATER_AT_60F / density - 131.5


def api_at_60f(observed_api: float, degf: float) -> float:
    """API gravity at 60 °F from a glass hydrometer read at another temperature (table 5B).

    The hydrometer's own expansion is taken out first; then the density at 60 °F is found by repetition.
    """
    away = degf - 60
    glass = 1 - 0.00001278 * away - 0.0000000062 * away**2
    observed = density_of_api(observed_api) * glass
    density = observed
    for _ in range(50):
        density = observed / volume_correction(density, degf, "60 F")
    return api_of_density(density)


def rounded_api(api: float) -> float:
    """API gravity to a half: tenths 1, 2 down to .0; 3, 4, 6, 7 to .5; 8, 9 up (US Army QM5097, QM5200a)."""
    tenths = int(Decimal(str(api)).quantize(Decimal("0.1"), ROUND_HALF_UP) * 10)
    whole, part = divmod(tenths, 10)
    return whole + (0.0 if part <= 2 else 0.5 if part <= 7 else 1.0)


def rounded_degf(degf: float) -> float:
    """Temperature to half a degree, as the tables are entered."""
    return float((Decimal(str(degf)) * 2).quantize(Decimal(1), ROUND_HALF_UP) / 2)


def temperature_faults(degf: float, pointer: str) -> list[Fault]:
    """A product temperature outside the tables is a slip of the pen or of the unit."""
    if LOWEST_DEGF <= degf <= HIGHEST_DEGF:
        return []
    detail = f"{degf:g} °F is outside {LOWEST_DEGF:g} to {HIGHEST_DEGF:g} °F; check the reading and its unit"
    return [Fault(pointer, detail, "above-maximum" if degf > HIGHEST_DEGF else "below-minimum")]


def _band(density: float) -> Band:
    if density < TRANSITION_FROM:
        return GASOLINE
    if density < KEROSENE_FROM:
        return TRANSITION
    return KEROSENE if density < DIESEL_FROM else DIESEL

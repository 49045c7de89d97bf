"""How well the first look at a liquid-filled space tells a leak from the weather.

    uv run python -m tests.benchmarks.brine [years] [leaks]

Synthetic series of one reading a day: seasons, spells of weather, deliveries that warm or cool the liquid, a
thermometer that is off and lags, a stick that reads to 1/8 in, a brine that expands as it was measured
(tests/measured_brine.py) and not as the service's fit says, in spaces of 60 to 120 gal with risers of 4 and 6 in or a
432 square-inch reservoir. A leak-free year is read every day over the last 30 days and must never be called a loss; a
loss of 0.05 gal a day that begins in the middle of a season must be called one within 30 days. Prints both rates and
the seeds.
"""

import math
import random
import sys
from collections.abc import Iterator
from functools import cache

from compliance.protocols.brine import Interstice, Sample, triage
from equipment.physics.units import CUBIC_INCHES_A_GALLON
from tests import measured_brine

SURFACES_IN2 = (12.566, 28.274, 432.0)
WINDOW_DAYS = 30
FIRST_LOOK_DAYS = 10
QUIET_DAYS = 40
SETTLED_DEGC = 12.0
LOSS_GAL_A_DAY = 0.05
FIRST_SEED = 4_000
STICK_IN = 0.125


def main(years: int, leaks: int) -> None:
    calm = range(FIRST_SEED, FIRST_SEED + years)
    leaking = range(FIRST_SEED + years, FIRST_SEED + years + leaks)
    called = [seed for seed in calm if ever_a_loss(seed)]
    days = [found_after(seed) for seed in leaking]
    found = sorted(day for day in days if day is not None)

    print(
        f"leak-free years called a loss: {len(called)} of {years} (seeds {calm.start} to {calm.stop - 1}) {called}"
    )
    print(
        f"losses of {LOSS_GAL_A_DAY} gal a day found within {WINDOW_DAYS} days: {len(found)} of {leaks} "
        f"(seeds {leaking.start} to {leaking.stop - 1})"
    )
    if found:
        print(f"days until found: median {found[len(found) // 2]}, longest {found[-1]}")


def ever_a_loss(seed: int, *, every: int = 1) -> bool:
    """Whether any look at a leak-free year calls it a loss, looking every so many days."""
    space, series = year(seed, days=365)
    return any(
        triage(series[max(0, day - WINDOW_DAYS) : day], space).reading == "loss"
        for day in range(FIRST_LOOK_DAYS, len(series) + 1, every)
    )


def found_after(seed: int) -> int | None:
    """Days from the leak's start to the first look that calls it a loss; None within 30 days."""
    space, series = year(seed, days=QUIET_DAYS + WINDOW_DAYS + 1, loss=LOSS_GAL_A_DAY, leaks_from=QUIET_DAYS)
    for day in range(QUIET_DAYS + 1, len(series) + 1):
        if triage(series[max(0, day - WINDOW_DAYS) : day], space).reading == "loss":
            return day - 1 - QUIET_DAYS
    return None


def year(seed: int, *, days: int, loss: float = 0.0, leaks_from: int = 0) -> tuple[Interstice, list[Sample]]:
    """A space as its owner describes it, and a reading a day; `loss` in gallons a day from that day on."""
    chance = random.Random(seed)
    surface = chance.choice(SURFACES_IN2)
    gallons, strength = chance.uniform(60, 120), chance.uniform(25, 30)
    space = Interstice(gallons=gallons, free_surface_in2=surface, mass_pct=strength, reading_step_in=STICK_IN)
    settled, off = measured_density(strength, SETTLED_DEGC), chance.gauss(0, 0.5)
    start, samples = chance.uniform(0, 365), []
    before = None
    for day, degc in enumerate(ground_temperatures(chance, start, days)):
        grown = gallons * (settled / measured_density(strength, degc) - 1)
        lost = loss * max(0, day - leaks_from)
        level = 60 + (grown - lost) * CUBIC_INCHES_A_GALLON / surface + chance.gauss(0, 0.04)
        seen = round(level / STICK_IN) * STICK_IN
        felt = 0.8 * degc + 0.2 * (degc if before is None else before) + off + chance.gauss(0, 0.2)
        samples.append(Sample(days=day, level_in=seen, degc=round(felt, 1)))
        before = degc
    return space, samples


def ground_temperatures(chance: random.Random, start: float, days: int) -> Iterator[float]:
    """A season of 7 K either way around 12 °C, spells of weather that fade over five days, deliveries over two."""
    spell = delivered = 0.0
    for day in range(days):
        spell = 0.8 * spell + chance.gauss(0, 0.4)
        delivered = 0.4 * delivered + (chance.uniform(-3, 3) if chance.random() < 0.1 else 0.0)
        yield SETTLED_DEGC + 7 * math.sin(2 * math.pi * (start + day) / 365) + spell + delivered


def measured_density(mass_pct: float, degc: float) -> float:
    """As measured, by straight lines between whole degrees of a table made once for each strength."""
    low = max(1, math.floor(degc))  # the measurement of pure water in it ends where water freezes
    part = degc - low
    return (1 - part) * _at(mass_pct, low) + part * _at(mass_pct, low + 1)


@cache
def _at(mass_pct: float, degc: int) -> float:
    return measured_brine.density(mass_pct, degc)


if __name__ == "__main__":
    asked = [int(each) for each in sys.argv[1:]]
    main(*(asked or (200, 100)))

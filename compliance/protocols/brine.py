"""First look at a liquid-filled space between walls whose level moves: temperature, water coming in, or loss?

Advice beside the alarm, never a disposition: a suspected release stays one until it is cleared. A level that goes with
temperature by the amount that physics expects is thermal; one that keeps going when temperature is taken out by
regression is a breach. Both must say so. What it cannot tell, it says.
"""

from collections.abc import Sequence
from typing import Literal

import msgspec

from compliance.protocols import student_t
from compliance.protocols.regression import CannotFit, Line, correlation, fit
from equipment.physics import brine
from equipment.physics.interstice import gallons_of, level_change

Reading = Literal["consistent with temperature", "water coming in", "loss", "cannot tell"]

# Our own choice, no source: how sure a drift has to be when a series is looked at every day of a year, and how closely
# a level has to follow the tide.
SURE = 0.999999
TIDE_SURE = 0.995
FEWEST = 8
STEADY_KELVIN = 0.2
INNER_WALL = (
    "Bottom water rises while the level falls; brine sinks and reads as water: look at the inner wall."
)


class Sample(msgspec.Struct, frozen=True, kw_only=True):
    """One reading: days from any start, level, brine temperature; tide and bottom water where they are read."""

    days: float
    level_in: float
    degc: float
    tide_ft: float | None = None
    bottom_water_in: float | None = None


class Interstice(msgspec.Struct, frozen=True, kw_only=True):
    """Liquid and free surface. `expansion` per kelvin; None takes the brine's own at `mass_pct`."""

    gallons: float
    free_surface_in2: float
    mass_pct: float = 30.0
    expansion: float | None = None
    reading_step_in: float = 0.125


class Triage(msgspec.Struct, frozen=True, kw_only=True):
    """The reading and the numbers behind it.

    Inches: observed change from the first to the last readings, the change that temperature explains, and how far
    the two may differ; inches for one kelvin as physics expects them and as the readings show them (None where the
    temperature stood still). Drift: inches a day with temperature taken out, its error, the margin either way within
    which it lies in 95 of 100 cases, gallons a day (a loss is negative), and how many errors it is from zero beside
    the number that it takes.
    """

    reading: Reading
    observed_in: float | None = None
    expected_in: float | None = None
    band_in: float | None = None
    expected_in_a_kelvin: float | None = None
    seen_in_a_kelvin: float | None = None
    drift_in_a_day: float | None = None
    drift_error: float | None = None
    drift_margin: float | None = None
    gallons_a_day: float | None = None
    errors_from_zero: float | None = None
    errors_needed: float | None = None
    tide_correlation: float | None = None
    bottom_water_rise_in: float | None = None
    notes: tuple[str, ...] = ()


def triage(samples: Sequence[Sample], space: Interstice) -> Triage:
    """Read a series in any order. Fewer than eight readings tell nothing, nor does warmth that only runs with time.

    Raises `equipment.physics.brine.OutsideTheFit` for a strength or temperature without a published density.
    """
    series = sorted(samples, key=lambda sample: sample.days)
    if len(series) < FEWEST or series[0].days == series[-1].days:
        return Triage(
            reading="cannot tell", notes=(f"At least {FEWEST} readings over some days are needed.",)
        )
    try:
        line = _drift_line(series)
    except CannotFit:
        note = (
            "Temperature only ever ran with time: wait until it turns, or read the level at one temperature."
        )
        return Triage(reading="cannot tell", notes=(note,))
    return _weigh(series, space, line)


def expansion_of(space: Interstice, degc: float) -> float:
    """Per kelvin: as stated, else by the fit at this strength."""
    return space.expansion if space.expansion is not None else brine.expansion(space.mass_pct, degc)


def _drift_line(series: Sequence[Sample]) -> Line:
    """Level on time, and on temperature where it moved; time is the first column."""
    columns = [[each.days for each in series]]
    warmth = [each.degc for each in series]
    if max(warmth) - min(warmth) > STEADY_KELVIN:
        columns.append(warmth)
    return fit([each.level_in for each in series], columns)


def _weigh(series: Sequence[Sample], space: Interstice, line: Line) -> Triage:
    middle = sum(each.degc for each in series) / len(series)
    a_kelvin = level_change(space.gallons, expansion_of(space, middle), 1, space.free_surface_in2)
    observed, expected = _ends_apart(series, "level_in"), a_kelvin * _ends_apart(series, "degc")
    band = space.reading_step_in + _spread(space, middle) * abs(expected)
    drift, error = line.slopes[0], line.errors[0]
    needed = student_t.quantile(SURE, line.freedom)
    far = abs(drift) / error if error else float(drift != 0) * needed * 2
    tide, by_tide = _tide(series, line)
    water = _bottom_water(series)
    reading, notes = _reading(
        drift, drifts=far > needed, explained=abs(observed - expected) <= band, by_tide=by_tide
    )
    if water is not None and water >= space.reading_step_in and observed < 0:
        notes.append(INNER_WALL)
    return Triage(
        reading=reading,
        observed_in=observed,
        expected_in=expected,
        band_in=band,
        expected_in_a_kelvin=a_kelvin,
        seen_in_a_kelvin=line.slopes[1] if len(line.slopes) > 1 else None,
        drift_in_a_day=drift,
        drift_error=error,
        drift_margin=error * student_t.quantile(0.975, line.freedom),
        gallons_a_day=gallons_of(drift, space.free_surface_in2),
        errors_from_zero=far,
        errors_needed=needed,
        tide_correlation=tide,
        bottom_water_rise_in=water,
        notes=tuple(notes),
    )


def _reading(drift: float, *, drifts: bool, explained: bool, by_tide: bool) -> tuple[Reading, list[str]]:
    notes = []
    if by_tide:
        notes.append("The level goes with the tide, which marks an outer breach near the water table.")
    if drifts and not explained:
        return ("loss" if drift < 0 else "water coming in"), notes
    if by_tide:
        return "cannot tell", notes
    if explained and not drifts:
        return "consistent with temperature", notes
    notes.append(
        "More than temperature explains, but no steady drift: look for a delivery, a top-up or trapped air."
        if not drifts
        else "The level drifts, but by no more than temperature may explain: keep reading."
    )
    return "cannot tell", notes


def _spread(space: Interstice, degc: float) -> float:
    """By which part the expansion may be off: what somebody measured and stated is as good as the usual table."""
    if space.expansion is not None:
        return brine.EXPANSION_SPREAD
    return brine.expansion_spread(space.mass_pct, degc)


def _ends_apart(series: Sequence[Sample], name: str) -> float:
    """Mean of the last readings minus mean of the first, a tenth of the series at each end."""
    share = max(1, len(series) // 10)
    values = [getattr(each, name) for each in series]
    return float(sum(values[-share:]) - sum(values[:share])) / share


def _tide(series: Sequence[Sample], line: Line) -> tuple[float | None, bool]:
    """Correlation of what is left with the tide, and whether chance explains it."""
    pairs = [
        (left, each.tide_ft) for left, each in zip(line.left, series, strict=True) if each.tide_ft is not None
    ]
    if len(pairs) < FEWEST:
        return None, False
    found = correlation([left for left, _ in pairs], [tide for _, tide in pairs])
    freedom = len(pairs) - 2
    needed = student_t.quantile(1 - (1 - TIDE_SURE) / 2, freedom)
    return found, abs(found) > needed / (freedom + needed**2) ** 0.5


def _bottom_water(series: Sequence[Sample]) -> float | None:
    """Inches by which the bottom water rose from the first to the last reading of it."""
    found = [each.bottom_water_in for each in series if each.bottom_water_in is not None]
    return found[-1] - found[0] if len(found) > 1 else None

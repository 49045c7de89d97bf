"""A tank's own chart: depth to volume as its maker printed it.

Between two rows the volume is interpolated in a straight line; the nearest row is never taken (Wisconsin
specialty-tanks operator training, step 13; EPA 510-B-93-004, p. 9). A chart is checked by itself and against geometry.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor, isfinite, pi

import msgspec

from equipment.faults import Fault
from equipment.physics.geometry import LONGEST_IN, WIDEST_IN
from equipment.physics.tank import Tank, capacity, down_to_eighth, volume_at
from equipment.physics.units import CUBIC_INCHES_A_GALLON

STEPS = (1.0, 0.5, 0.25, 0.125)
FLAG_PERCENT = 2.0


class Row(msgspec.Struct, frozen=True, array_like=True):
    """Gallons in the tank at a depth in inches."""

    depth_in: float
    gal: float


class Chart(msgspec.Struct, frozen=True):
    """Rows by rising depth; the last one is the full tank."""

    rows: tuple[Row, ...]

    @property
    def capacity_gal(self) -> float:
        return self.rows[-1].gal

    @property
    def full_in(self) -> float:
        return self.rows[-1].depth_in


class OffTheChart(ValueError):
    """A depth or volume that the chart does not hold. The message says what it holds."""


class Difference(msgspec.Struct, frozen=True):
    """Where chart and geometry part by more than is usual: chart minus geometry, in percent of the chart's capacity."""

    depth_in: float
    chart_gal: float
    computed_gal: float
    percent: float


def chart_faults(rows: Sequence[Row], *, diameter_in: float | None = None) -> list[Fault]:
    """What is wrong with a chart before it is kept; pointers lead into `/rows`. An empty list: it can be used."""
    if len(rows) < 2:
        return [Fault("/rows", "a chart has two rows at least: empty and full", "missing")]
    found = [*_row_faults(rows, diameter_in), *_order_faults(rows)]
    return found or [*_end_faults(rows[0], rows[-1])]


def _end_faults(first: Row, last: Row) -> Iterator[Fault]:
    """Below its first row a chart knows nothing, and an empty tank or an inch of water must be on it."""
    if first.depth_in > 0:
        detail = (
            f"the chart begins at {first.depth_in:g} in; add the row of 0 in, with what the tank holds there"
        )
        yield Fault("/rows/0/depth_in", detail, "missing")
    if 2 * first.gal >= last.gal:
        detail = f"the first row is the empty tank and the last the full one, not {first.gal:g} and {last.gal:g} gal"
        yield Fault("/rows/0/gal", detail, "above-maximum")
    round_area = pi * last.depth_in**2 / 4
    feet = last.gal * CUBIC_INCHES_A_GALLON / round_area / 12
    if feet * 12 > LONGEST_IN:
        detail = (
            f"a tank {last.depth_in:g} in wide that holds {last.gal:,.0f} gal is {feet:,.0f} ft long; depths are in "
            "inches, check the unit"
        )
        yield Fault("/rows", detail, "out-of-range")


def _row_faults(rows: Sequence[Row], diameter_in: float | None) -> Iterator[Fault]:
    for number, row in enumerate(rows):
        if not (isfinite(row.depth_in) and isfinite(row.gal)):
            yield Fault(f"/rows/{number}", "depth and volume are finite numbers", "not-finite")
            continue
        if row.depth_in < 0:
            yield Fault(f"/rows/{number}/depth_in", "a depth is not below zero", "below-minimum")
        if row.gal < 0:
            yield Fault(f"/rows/{number}/gal", "a volume is not below zero", "below-minimum")
        if diameter_in is not None and row.depth_in > diameter_in:
            yield Fault(
                f"/rows/{number}/depth_in",
                f"{row.depth_in:g} in is above the diameter of {diameter_in:g} in; check the row or the diameter",
                "above-maximum",
            )
        elif row.depth_in > WIDEST_IN:
            detail = f"{row.depth_in:g} in is above {WIDEST_IN:g} in; depths are in inches, check the unit"
            yield Fault(f"/rows/{number}/depth_in", detail, "above-maximum")


def _order_faults(rows: Sequence[Row]) -> Iterator[Fault]:
    for number, (before, row) in enumerate(pairwise(rows), start=1):
        if row.depth_in <= before.depth_in:
            yield Fault(
                f"/rows/{number}/depth_in",
                f"{row.depth_in:g} in follows {before.depth_in:g} in; order the rows by depth, each once",
                "order",
            )
        if row.gal < before.gal:
            yield Fault(
                f"/rows/{number}/gal",
                f"the volume falls from {before.gal:g} to {row.gal:g} gal while the depth rises; correct the row",
                "decreasing",
            )


def chart_volume(chart: Chart, depth_in: float) -> float:
    """Gallons at a depth, interpolated. OffTheChart outside its first and last row."""
    rows = chart.rows
    if not rows[0].depth_in <= depth_in <= rows[-1].depth_in:
        raise OffTheChart(
            f"depth {depth_in:g} in is not on the chart, which holds {rows[0].depth_in:g} to {chart.full_in:g} in"
        )
    place = max(1, bisect_left(rows, depth_in, key=lambda row: row.depth_in))
    low, high = rows[place - 1], rows[place]
    return interpolate(depth_in, (low.depth_in, low.gal), (high.depth_in, high.gal))


def chart_device_height(chart: Chart, percent: float) -> float:
    """The highest eighth of an inch at which the chart shows no more than this share of its capacity.

    Reckoned in fractions of what was typed: a limit that falls on an eighth is not lost to a binary rounding.
    """
    limit = _typed(chart.capacity_gal) * _typed(percent) / 100
    if limit >= _typed(chart.capacity_gal):
        return down_to_eighth(chart.full_in)
    for low, high in zip(reversed(chart.rows[:-1]), reversed(chart.rows[1:]), strict=True):
        if _typed(low.gal) <= limit < _typed(high.gal):
            part = Fraction(limit - _typed(low.gal)) / Fraction(_typed(high.gal) - _typed(low.gal))
            rise = Fraction(_typed(high.depth_in) - _typed(low.depth_in))
            return floor((Fraction(_typed(low.depth_in)) + part * rise) * 8) / 8
    raise OffTheChart(f"{percent:g} percent of the tank is less than the first row of its chart shows")


def _typed(value: float) -> Decimal:
    return Decimal(repr(value))


def interpolate(at: float, low: tuple[float, float], high: tuple[float, float]) -> float:
    """The straight line through two points, at one place."""
    return low[1] + (high[1] - low[1]) * (at - low[0]) / (high[0] - low[0])


def computed_chart(tank: Tank, step_in: float = 1.0) -> Chart:
    """The chart of a tank's geometry, every `step_in` inches (1, 1/2, 1/4 or 1/8) and at the diameter."""
    if step_in not in STEPS:
        raise ValueError(f"a chart steps by {', '.join(f'{each:g}' for each in STEPS)} in, not {step_in:g}")
    depths = [number * step_in for number in range(ceil(tank.diameter_in / step_in))]
    return Chart(tuple(Row(each, volume_at(tank, each)) for each in (*depths, tank.diameter_in)))


def differences(chart: Chart, tank: Tank, *, flag_percent: float = FLAG_PERCENT) -> list[Difference]:
    """Rows that part from geometry by more than `flag_percent` of capacity. The tank's own chart still counts:

    a maker's domed ends or inner fittings are real, so a flag asks somebody to look, and nothing more.
    """
    found = []
    for row in chart.rows:
        computed = volume_at(tank, row.depth_in) if row.depth_in <= tank.diameter_in else capacity(tank)
        percent = (row.gal - computed) * 100 / chart.capacity_gal
        if abs(percent) > flag_percent:
            found.append(Difference(row.depth_in, row.gal, computed, percent))
    return found

"""A chart drawn as SVG: volume over depth, heights of overfill devices, and rows that part from the tank's shape."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape

import msgspec

from equipment.api.drawing import (
    BLUE,
    GREY,
    INK,
    LEADING,
    MARGIN,
    SAMPLE,
    TITLE,
    VERMILION,
    WIDTH,
    block,
    legend,
    line,
    lines_of,
    page,
    text,
)
from equipment.physics.chart_check import Check
from equipment.physics.chart_text import in_eighths
from equipment.physics.charts import Chart
from equipment.physics.tank import Tank, volume_at

LEFT, RIGHT, PLOT = 84, 28, 360
POINTS = 120
TICKS = (1, 2, 2.5, 5)
DASHES = ("9 4 2 4", "9 4")


class Mark(msgspec.Struct, frozen=True):
    """A depth to be marked: what stands beside its line, and what it is for."""

    depth_in: float
    gal: float
    label: str
    use: str


class Frame(msgspec.Struct, frozen=True):
    """Where inches and gallons lie on the page."""

    full_in: float
    full_gal: float
    top: float

    @property
    def bottom(self) -> float:
        """Where the depths stand."""
        return self.top + PLOT

    def x(self, depth_in: float) -> float:
        """Pixels from the left."""
        return round(LEFT + depth_in / self.full_in * (WIDTH - LEFT - RIGHT), 1)

    def y(self, gal: float) -> float:
        """Pixels from the top."""
        return round(self.bottom - gal / self.full_gal * PLOT, 1)

    def line(self, points: Iterable[tuple[float, float]]) -> str:
        """Points of a polyline."""
        return " ".join(f"{self.x(depth)},{self.y(gal)}" for depth, gal in points)


def draw(title: str, chart: Chart, check: Check, marks: Sequence[Mark]) -> str:
    """The picture as an SVG document."""
    flagged = len(check.differences)
    told = f"{flagged} of {len(chart.rows)} rows part from the tank's shape by more than {check.flag_percent:g} percent"
    head = lines_of(title, room=WIDTH - 2 * MARGIN, size=TITLE)
    below = lines_of(told if check.basis else check.remarks[0], room=WIDTH - 2 * MARGIN)
    start = 30 + len(head) * LEADING * 1.2
    frame = Frame(
        chart.full_in,
        max(chart.capacity_gal, *(each.computed_gal for each in check.differences), 1.0),
        start + len(below) * LEADING + 14,
    )
    key, foot = _legend(check, marks, frame.bottom + 84)
    in_words = "; ".join([*(f"{each.label}: {each.use}" for each in marks), told])
    return page(
        foot,
        title,
        in_words,
        [
            *block(MARGIN, 30, head, size=TITLE),
            *block(MARGIN, start, below, fill=GREY),
            *_axes(frame),
            *_curves(frame, chart, check.tank),
            *(part for number, mark in enumerate(marks) for part in _mark(frame, mark, number)),
            *_flags(frame, check),
            *key,
        ],
    )


def ticks(most: float) -> list[float]:
    """Round values from 0 to `most`, at most ten steps."""
    size = 10.0 ** (len(str(int(most))) - 2)
    step = next(
        each * size * scale for scale in (1, 10) for each in TICKS if most / (each * size * scale) <= 10
    )
    return [number * step for number in range(int(most / step) + 1)]


def _axes(frame: Frame) -> Iterator[str]:
    bottom, right = frame.bottom, WIDTH - RIGHT
    for gal in ticks(frame.full_gal):
        yield line(LEFT, frame.y(gal), right, frame.y(gal), "#e3e3e3")
        yield text(LEFT - 8, frame.y(gal) + 6, f"{gal:,.0f}", anchor="end")
    yield text(MARGIN, frame.top - 10, "gallons")
    for depth in ticks(frame.full_in):
        yield line(frame.x(depth), bottom, frame.x(depth), bottom + 6, INK)
        yield text(frame.x(depth), bottom + 24, f"{depth:g}", anchor="middle")
    yield f'<path d="M{LEFT} {frame.top}V{bottom}H{right}" fill="none" stroke="{INK}"/>'
    yield text((LEFT + right) / 2, bottom + 48, "depth under the gauge, inches", anchor="middle")


def _curves(frame: Frame, chart: Chart, tank: Tank | None) -> Iterator[str]:
    if tank is not None:
        reach = min(tank.diameter_in, chart.full_in)
        depths = [reach * number / POINTS for number in range(POINTS + 1)]
        points = frame.line((depth, min(volume_at(tank, depth), frame.full_gal)) for depth in depths)
        yield f'<polyline points="{points}" fill="none" stroke="{GREY}" stroke-width="2" stroke-dasharray="2 4"/>'
    points = frame.line((row.depth_in, row.gal) for row in chart.rows)
    yield f'<polyline points="{points}" fill="none" stroke="{BLUE}" stroke-width="3"/>'


def _mark(frame: Frame, mark: Mark, number: int) -> Iterator[str]:
    """A line up to the curve and on to the left, where the words stand; each mark with dashes of its own."""
    x, y = frame.x(mark.depth_in), frame.y(mark.gal)
    yield (
        f'<path d="M{x} {frame.bottom}V{y}H{LEFT}" fill="none" stroke="{VERMILION}" stroke-width="1.5" '
        f'stroke-dasharray="{DASHES[number % 2]}"/>'
    )
    yield f'<circle cx="{x}" cy="{y}" r="4" fill="{VERMILION}"/>'
    yield text(LEFT + 8, y - 6 if number % 2 else y + 20, mark.label, fill=VERMILION)


def _flags(frame: Frame, check: Check) -> Iterator[str]:
    for each in check.differences:
        x, y = frame.x(each.depth_in), frame.y(each.chart_gal)
        words = f"{each.depth_in:g} in: chart {each.chart_gal:,.0f} gal, shape {each.computed_gal:,.0f} gal"
        yield f"{_triangle(x, y)}<title>{escape(words)}</title></path>"


def _triangle(x: float, y: float) -> str:
    return (
        f'<path d="M{x - 5:.1f} {y + 4:.1f}L{x:.1f} {y - 5:.1f}L{x + 5:.1f} {y + 4:.1f}Z" fill="#ffffff" '
        f'stroke="{INK}" stroke-width="1.5">'
    )


def _legend(check: Check, marks: Sequence[Mark], y: float) -> tuple[list[str], float]:
    """Each line of the picture with its words, and the foot of the page."""
    rows = [(_sample(BLUE, 3, ""), "the chart")]
    if check.basis is not None:
        rows.append((_sample(GREY, 2, "2 4"), check.basis))
    if check.differences:
        rows.append((_triangle(SAMPLE / 2, -6) + "</path>", "a row that parts from the shape"))
    for number, mark in enumerate(marks):
        rows.append((_sample(VERMILION, 1.5, DASHES[number % 2]), f"{mark.label}: {mark.use}"))
    return legend(rows, y)


def _sample(stroke: str, width: float, dashes: str) -> str:
    return (
        f'<line x1="0" y1="-6" x2="{SAMPLE}" y2="-6" stroke="{stroke}" stroke-width="{width:g}" '
        f'stroke-dasharray="{dashes}"/>'
    )


def marked(percent: float, depth_in: float, gal: float, use: str) -> Mark:
    """A device height with its words."""
    return Mark(depth_in, gal, f"{percent:g} %: {in_eighths(depth_in)} in, {gal:,.0f} gal", use)

"""A chart drawn as SVG: volume over depth, the heights of overfill devices, and rows that part from the tank's shape.

Colours are told apart by people who see red and green alike, and nothing is told by colour alone: lines differ in
their dashes, and words stand beside them.
"""

from collections.abc import Iterable, Iterator, Sequence
from xml.sax.saxutils import escape

import msgspec

from equipment.physics.chart_check import Check
from equipment.physics.chart_text import in_eighths
from equipment.physics.charts import Chart
from equipment.physics.tank import Tank, volume_at

WIDTH, HEIGHT = 960, 600
LEFT, RIGHT, TOP, BOTTOM = 90, 36, 76, 92
BLUE, ORANGE, GREY, INK = "#0b4f8a", "#b34700", "#6b6b6b", "#1a1a1a"
POINTS = 120
TICKS = (1, 2, 2.5, 5)
WIDE_ENOUGH = 8


class Mark(msgspec.Struct, frozen=True):
    """A depth to be marked, with the words beside it."""

    percent: float
    depth_in: float
    gal: float
    words: str


class Frame(msgspec.Struct, frozen=True):
    """Where inches and gallons lie on the page."""

    full_in: float
    full_gal: float

    def x(self, depth_in: float) -> float:
        """Pixels from the left."""
        return round(LEFT + depth_in / self.full_in * (WIDTH - LEFT - RIGHT), 1)

    def y(self, gal: float) -> float:
        """Pixels from the top."""
        return round(HEIGHT - BOTTOM - gal / self.full_gal * (HEIGHT - TOP - BOTTOM), 1)

    def line(self, points: Iterable[tuple[float, float]]) -> str:
        """Points of a polyline."""
        return " ".join(f"{self.x(depth)},{self.y(gal)}" for depth, gal in points)


def draw(title: str, chart: Chart, check: Check, marks: Sequence[Mark]) -> str:
    """The picture as an SVG document of its own, without scripts or outside files."""
    frame = Frame(
        chart.full_in, max(chart.capacity_gal, *(each.computed_gal for each in check.differences), 1.0)
    )
    words = escape(title)
    flagged = len(check.differences)
    told = f"{flagged} of {len(chart.rows)} rows part from the tank's shape by more than {check.flag_percent:g} percent"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
        f'role="img" aria-labelledby="t d" font-family="DejaVu Sans, Verdana, sans-serif" font-size="14" fill="{INK}">',
        f'<title id="t">{words}</title>',
        f'<desc id="d">{escape("; ".join([*(each.words for each in marks), told]))}</desc>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="34" font-size="19" font-weight="bold">{words}</text>',
        f'<text x="{LEFT}" y="57" fill="{GREY}">{escape(told if check.basis else check.remarks[0])}</text>',
        *_axes(frame),
        *_curves(frame, chart, check.tank),
        *(line for number, mark in enumerate(marks) for line in _mark(frame, mark, number)),
        *_flags(frame, check),
        *_legend(check),
        "</svg>",
    ]
    return "\n".join(parts)


def ticks(most: float) -> list[float]:
    """Round values from 0 to `most`, at most ten steps."""
    size = 10.0 ** (len(str(int(most))) - 2)
    step = next(
        each * size * scale for scale in (1, 10) for each in TICKS if most / (each * size * scale) <= 10
    )
    return [number * step for number in range(int(most / step) + 1)]


def _axes(frame: Frame) -> Iterator[str]:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    for gal in ticks(frame.full_gal):
        y = frame.y(gal)
        yield f'<line x1="{LEFT}" y1="{y}" x2="{right}" y2="{y}" stroke="#e3e3e3"/>'
        yield f'<text x="{LEFT - 8}" y="{y + 5}" text-anchor="end">{gal:,.0f}</text>'
    for depth in ticks(frame.full_in):
        x = frame.x(depth)
        yield f'<line x1="{x}" y1="{bottom}" x2="{x}" y2="{bottom + 6}" stroke="{INK}"/>'
        yield f'<text x="{x}" y="{bottom + 22}" text-anchor="middle">{depth:g}</text>'
    yield f'<path d="M{LEFT} {TOP}V{bottom}H{right}" fill="none" stroke="{INK}"/>'
    yield f'<text x="{(LEFT + right) / 2}" y="{bottom + 44}" text-anchor="middle">Depth under the gauge, inches</text>'
    yield (
        f'<text x="22" y="{(TOP + bottom) / 2}" text-anchor="middle" '
        f'transform="rotate(-90 22 {(TOP + bottom) / 2})">Volume, gallons</text>'
    )


def _curves(frame: Frame, chart: Chart, tank: Tank | None) -> Iterator[str]:
    if tank is not None:
        reach = min(tank.diameter_in, chart.full_in)
        depths = [reach * number / POINTS for number in range(POINTS + 1)]
        points = frame.line((depth, min(volume_at(tank, depth), frame.full_gal)) for depth in depths)
        yield f'<polyline points="{points}" fill="none" stroke="{GREY}" stroke-width="1.5" stroke-dasharray="2 4"/>'
    points = frame.line((row.depth_in, row.gal) for row in chart.rows)
    yield f'<polyline points="{points}" fill="none" stroke="{BLUE}" stroke-width="2.5"/>'


def _mark(frame: Frame, mark: Mark, number: int) -> Iterator[str]:
    """A line up to the curve and on to the left, where the words stand; each mark with dashes of its own."""
    x, y, bottom = frame.x(mark.depth_in), frame.y(mark.gal), HEIGHT - BOTTOM
    dashes = "9 4" if number % 2 else "9 4 2 4"
    yield (
        f'<path d="M{x} {bottom}V{y}H{LEFT}" fill="none" stroke="{ORANGE}" stroke-width="1.5" '
        f'stroke-dasharray="{dashes}"/>'
    )
    yield f'<circle cx="{x}" cy="{y}" r="4" fill="{ORANGE}"/>'
    beside = y - 5 if number % 2 else y + 17
    yield f'<text x="{LEFT + WIDE_ENOUGH}" y="{beside}" fill="{ORANGE}">{escape(mark.words)}</text>'


def _flags(frame: Frame, check: Check) -> Iterator[str]:
    for each in check.differences:
        x, y = frame.x(each.depth_in), frame.y(each.chart_gal)
        words = f"{each.depth_in:g} in: chart {each.chart_gal:,.0f} gal, shape {each.computed_gal:,.0f} gal"
        yield (
            f'<path d="M{x - 5} {y + 4}L{x} {y - 5}L{x + 5} {y + 4}Z" fill="#ffffff" stroke="{INK}" '
            f'stroke-width="1.5"><title>{words}</title></path>'
        )


def _legend(check: Check) -> Iterator[str]:
    y = HEIGHT - 18
    yield f'<line x1="{LEFT}" y1="{y - 5}" x2="{LEFT + 34}" y2="{y - 5}" stroke="{BLUE}" stroke-width="2.5"/>'
    yield f'<text x="{LEFT + 42}" y="{y}">chart</text>'
    if check.basis is not None:
        yield (
            f'<line x1="{LEFT + 100}" y1="{y - 5}" x2="{LEFT + 134}" y2="{y - 5}" stroke="{GREY}" stroke-width="1.5" '
            f'stroke-dasharray="2 4"/>'
        )
        yield f'<text x="{LEFT + 142}" y="{y}">{escape(check.basis)}</text>'
    if check.differences:
        x = WIDTH - RIGHT - 170
        yield (
            f'<path d="M{x} {y - 1}L{x + 5} {y - 10}L{x + 10} {y - 1}Z" fill="#ffffff" stroke="{INK}" '
            f'stroke-width="1.5"/>'
        )
        yield f'<text x="{x + 18}" y="{y}">row parts from shape</text>'


def marked(percent: float, depth_in: float, gal: float, use: str) -> Mark:
    """A device height with its words."""
    return Mark(percent, depth_in, gal, f"{percent:g} %: {in_eighths(depth_in)} in, {gal:,.0f} gal – {use}")

"""The trend of a ledger as a picture: the month's sum from day to day, inside the band that it may move in.

Drawn as SVG, without a library. Whoever cannot tell the colours reads it too: the edges of the band are dashed, the
line is dark, and each month over its limit says so in words.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from html import escape
from itertools import groupby

from compliance.services.inventory import RuleOutcome
from compliance.services.inventory_trend import Trend, TrendDay

WIDTH, HEIGHT = 960, 420
LEFT, RIGHT, TOP, BOTTOM = 70, 20, 70, 50
# Blue and orange of Okabe and Ito's palette, told apart with any colour vision; their lightness differs too.
BAND, EDGE, LINE, OVER = "#dbe9f6", "#0072b2", "#1a1a1a", "#d55e00"
STEPS = (1, 2, 5)


class _Scale:
    """Days to the right, gallons upwards."""

    def __init__(self, trend: Trend, narrowest: Sequence[RuleOutcome]) -> None:
        limits = [each.allowance_gal for each in narrowest if each.allowance_gal is not None]
        reach = max([10.0, *limits, *(abs(day.month_gal) for day in trend.days)])
        self.step = _round_step(reach / 3)
        self.reach = self.step * (int(reach / self.step) + 1)
        self.first = trend.first
        self.days = max(1, (trend.last - trend.first).days)

    def x(self, on: date) -> float:
        part = max(0.0, min(1.0, (on - self.first).days / self.days))
        return LEFT + part * (WIDTH - LEFT - RIGHT)

    def y(self, gallons: float) -> float:
        middle = (TOP + HEIGHT - BOTTOM) / 2
        return middle - gallons / self.reach * (HEIGHT - TOP - BOTTOM) / 2


def trend_picture(trend: Trend, title: str) -> str:
    """An SVG document. Of several jurisdictions the one that allows least in a month gives the band."""
    bands = list(_narrowest(trend.periods))
    scale = _Scale(trend, bands)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" role="img" font-family="DejaVu Sans, sans-serif" font-size="12">',
        f"<title>{escape(title)}</title><desc>{escape(_in_words(trend, bands))}</desc>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        _text(LEFT, 24, title, size=16),
        _text(LEFT, 44, _in_words(trend, bands)),
        *(_band(each, scale) for each in bands),
        *_grid(scale),
        *_months(scale, trend, bands),
        *_lines(trend.days, scale),
        *(_mark(each, trend, scale) for each in bands if each.exceeded),
        _text(
            LEFT,
            HEIGHT - 8,
            "Line: sum of the month so far, gallons, over above zero. Shaded: what the month may be off.",
        ),
        "</svg>",
    ]
    return "\n".join(parts)


def _narrowest(periods: Sequence[RuleOutcome]) -> Iterator[RuleOutcome]:
    """One band a period; of those that end on one day the one that allows least."""
    known = [each for each in periods if each.allowance_gal is not None]
    for _, same in groupby(sorted(known, key=lambda each: each.last), key=lambda each: each.last):
        yield min(same, key=lambda each: (not each.exceeded, each.allowance_gal or 0.0))


def _in_words(trend: Trend, bands: Sequence[RuleOutcome]) -> str:
    over = [f"{each.last:%b %Y}" for each in bands if each.exceeded]
    found = f"Over the limit: {', '.join(over)}." if over else "No complete period is over its limit."
    if trend.gal_per_day is None:
        return found
    kind = "short" if trend.gal_per_day < 0 else "over"
    return f"{found} Trend of the days shown: {abs(trend.gal_per_day):.1f} gal a day {kind}."


def _band(each: RuleOutcome, scale: _Scale) -> str:
    limit = each.allowance_gal or 0.0
    x, right = scale.x(each.first), scale.x(each.last)
    top = scale.y(limit) if each.rule.counts == "over and short" else TOP
    bottom = scale.y(-limit)
    edges = [bottom, top] if each.rule.counts == "over and short" else [bottom]
    lines = "".join(
        f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{right:.1f}" y2="{y:.1f}" stroke="{EDGE}" stroke-dasharray="5 3"/>'
        for y in edges
    )
    return (
        f'<rect x="{x:.1f}" y="{top:.1f}" width="{max(1.0, right - x):.1f}" height="{bottom - top:.1f}" '
        f'fill="{BAND}"/>{lines}'
    )


def _grid(scale: _Scale) -> Iterator[str]:
    gallons = -scale.reach
    while gallons <= scale.reach:
        y = scale.y(gallons)
        stroke = "#555555" if gallons == 0 else "#cccccc"
        yield f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}" y2="{y:.1f}" stroke="{stroke}"/>'
        yield _text(LEFT - 8, y + 4, f"{gallons:+,.0f}" if gallons else "0 gal", anchor="end")
        gallons += scale.step


def _months(scale: _Scale, trend: Trend, bands: Sequence[RuleOutcome]) -> Iterator[str]:
    """A tick at each month's first day; names where there is room."""
    firsts = list(_firsts(trend.first, trend.last))
    every = len(firsts) // 13 + 1
    for number, day in enumerate(firsts):
        x = scale.x(day)
        yield f'<line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{HEIGHT - BOTTOM}" stroke="#e5e5e5"/>'
        if number % every == 0:
            yield _text(
                x + 3, HEIGHT - BOTTOM + 16, f"{day:%b %Y}" if day.month == 1 or number == 0 else f"{day:%b}"
            )


def _firsts(first: date, last: date) -> Iterator[date]:
    day = first.replace(day=1)
    while day <= last:
        if day >= first:
            yield day
        day = day.replace(year=day.year + day.month // 12, month=day.month % 12 + 1)


def _lines(days: Sequence[TrendDay], scale: _Scale) -> Iterator[str]:
    """One line a month, since each month begins again from zero."""
    for _, month in groupby(days, key=lambda day: (day.on.year, day.on.month)):
        points = " ".join(f"{scale.x(day.on):.1f},{scale.y(day.month_gal):.1f}" for day in month)
        yield f'<polyline points="{points}" fill="none" stroke="{LINE}" stroke-width="1.6"/>'


def _mark(each: RuleOutcome, trend: Trend, scale: _Scale) -> str:
    """A ring at the end of a period over its limit, with the figure beside it."""
    net = each.net_gal or 0.0
    x, y = scale.x(each.last), scale.y(net)
    word = "report" if each.action == "report" else "over limit"
    text = _text(x - 8, y + (16 if net < 0 else -8), f"{word} {net:+,.0f}", anchor="end", fill=OVER)
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="none" stroke="{OVER}" stroke-width="2.5"/>{text}'


def _text(
    x: float, y: float, words: str, *, size: int = 12, anchor: str = "start", fill: str = "#1a1a1a"
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" fill="{fill}">'
        f"{escape(words)}</text>"
    )


def _round_step(raw: float) -> float:
    """The next of 1, 2, 5, 10, 20, … that is not below."""
    power = 1.0
    while power * 10 < raw:
        power *= 10
    return next((power * each for each in STEPS if power * each >= raw), power * 10)

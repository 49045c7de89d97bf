"""The trend of a ledger as a picture: the month's sum from day to day, inside the band that it may move in.

Of several jurisdictions the one that allows least in a month gives the band. Whoever cannot tell the colours reads it
too: the edges of the band are dashed, a month over its limit has a ring, one to be reported a square, and each of them
stands below in words.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from compliance.services.inventory import RuleOutcome
from compliance.services.inventory_trend import Trend, TrendDay
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

LEFT, RIGHT, PLOT = 92, 20, 320
BAND, GRID, SOFT = "#dbe9f6", "#cccccc", "#e5e5e5"
STEPS = (1, 2, 5)
# A month's name and a year's four digits need so many pixels.
NAME = 44
SHOWN = 12
ACTIONS = {
    "recheck": "over the limit: look for the cause before the next one is",
    "report": "over the limit, enough in a row: report it",
}


class _Scale:
    """Days to the right, gallons upwards."""

    def __init__(self, trend: Trend, bands: Sequence[RuleOutcome], top: float) -> None:
        limits = [each.allowance_gal for each in bands if each.allowance_gal is not None]
        reach = max([10.0, *limits, *(abs(day.month_gal) for day in trend.days)])
        self.step = _round_step(reach / 3)
        self.reach = self.step * (int(reach / self.step) + 1)
        self.first = trend.first
        self.days = max(1, (trend.last - trend.first).days)
        self.top, self.bottom = top, top + PLOT

    def x(self, on: date) -> float:
        part = max(0.0, min(1.0, (on - self.first).days / self.days))
        return LEFT + part * (WIDTH - LEFT - RIGHT)

    def y(self, gallons: float) -> float:
        return self.top + PLOT / 2 - gallons / self.reach * PLOT / 2


def trend_picture(trend: Trend, title: str) -> str:
    """An SVG document."""
    bands = list(_narrowest(trend.periods))
    over = [each for each in bands if each.exceeded]
    told = _in_words(trend, bands)
    head, below = (
        lines_of(title, room=WIDTH - 2 * MARGIN, size=TITLE),
        lines_of(told, room=WIDTH - 2 * MARGIN),
    )
    start = 30 + len(head) * LEADING * 1.2
    scale = _Scale(trend, bands, start + len(below) * LEADING + 8)
    key, foot = _legend(trend, over, scale.bottom + 74)
    return page(
        foot,
        title,
        " ".join([told, *(f"{_over_in_words(each)}." for each in over)]),
        [
            *block(MARGIN, 30, head, size=TITLE),
            *block(MARGIN, start, below, fill=GREY),
            *(_band(each, scale) for each in bands),
            *_grid(scale),
            *_months(scale, trend),
            *_lines(trend.days, scale),
            *(_mark(scale.x(each.last), scale.y(each.net_gal or 0.0), each) for each in over),
            *key,
        ],
    )


def _narrowest(periods: Sequence[RuleOutcome]) -> Iterator[RuleOutcome]:
    """One band a period; of those that end on one day the one that is exceeded, or else allows least."""
    known = [each for each in periods if each.allowance_gal is not None]
    for _, same in groupby(sorted(known, key=lambda each: each.last), key=lambda each: each.last):
        yield min(same, key=lambda each: (not each.exceeded, each.allowance_gal or 0.0))


def _in_words(trend: Trend, bands: Sequence[RuleOutcome]) -> str:
    if not trend.days:
        return f"No day from {trend.first} to {trend.last} can be reckoned yet: enter days that follow each other."
    over = sum(1 for each in bands if each.exceeded)
    found = f"{over} of {len(bands)} complete periods over the limit." if bands else "No period is complete."
    if trend.gal_per_day is None:
        return found
    kind = "short" if trend.gal_per_day < 0 else "over"
    return f"{found} Trend of the days shown: {abs(trend.gal_per_day):.1f} gal a day {kind}."


def _over_in_words(each: RuleOutcome) -> str:
    net = each.net_gal or 0.0
    kind = "short" if net < 0 else "over"
    named = f"{each.last:%b %Y}" if each.first.day == 1 else f"{each.first} to {each.last}"
    word = ", report" if each.action == "report" else ""
    allowed = f"{each.allowance_gal or 0.0:,.0f} allowed ({each.rule.jurisdiction})"
    return f"{named}{word}: {abs(net):,.0f} gal {kind}, {allowed}"


def _band(each: RuleOutcome, scale: _Scale) -> str:
    limit = each.allowance_gal or 0.0
    both = each.rule.counts == "over and short"
    x, right = scale.x(each.first), scale.x(each.last)
    top, bottom = scale.y(limit) if both else scale.top, scale.y(-limit)
    edges = [bottom, top] if both else [bottom]
    return (
        f'<rect x="{x:.1f}" y="{top:.1f}" width="{max(1.0, right - x):.1f}" height="{bottom - top:.1f}" '
        f'fill="{BAND}"/>' + "".join(line(x, y, right, y, BLUE, dashes="5 3") for y in edges)
    )


def _grid(scale: _Scale) -> Iterator[str]:
    gallons = -scale.reach
    while gallons <= scale.reach:
        y = scale.y(gallons)
        yield line(LEFT, y, WIDTH - RIGHT, y, INK if gallons == 0 else GRID)
        yield text(LEFT - 8, y + 6, f"{gallons:+,.0f}" if gallons else "0 gal", anchor="end")
        gallons += scale.step


def _months(scale: _Scale, trend: Trend) -> Iterator[str]:
    """A tick at each month's first day; names where there is room, with the year below the first of each."""
    firsts = list(_firsts(trend.first, trend.last)) or [trend.first]
    wide = (WIDTH - LEFT - RIGHT) / max(1, len(firsts))
    every = int(NAME / wide) + 1
    year = None
    for number, day in enumerate(firsts):
        x = scale.x(day)
        yield line(x, scale.top, x, scale.bottom, SOFT)
        if number % every == 0 and x <= WIDTH - RIGHT - NAME + 8:
            yield text(x + 2, scale.bottom + 20, f"{day:%b}")
            if day.year != year:
                year = day.year
                yield text(x + 2, scale.bottom + 40, str(year))


def _firsts(first: date, last: date) -> Iterator[date]:
    day = first.replace(day=1)
    while day <= last:
        if day >= first:
            yield day
        day = day.replace(year=day.year + day.month // 12, month=day.month % 12 + 1)


def _lines(days: Sequence[TrendDay], scale: _Scale) -> Iterator[str]:
    """One line a month, since each month begins again from zero; a day alone is a dot."""
    for _, month in groupby(days, key=lambda day: (day.on.year, day.on.month)):
        points = [(scale.x(day.on), scale.y(day.month_gal)) for day in month]
        if len(points) == 1:
            yield f'<circle cx="{points[0][0]:.1f}" cy="{points[0][1]:.1f}" r="3" fill="{INK}"/>'
            continue
        joined = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        yield f'<polyline points="{joined}" fill="none" stroke="{INK}" stroke-width="2" stroke-linejoin="round"/>'


def _mark(x: float, y: float, each: RuleOutcome) -> str:
    """A ring at the end of a period over its limit, a square where it is reported."""
    look = f'fill="none" stroke="{VERMILION}" stroke-width="3"'
    if each.action == "report":
        return f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" {look}/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" {look}/>'


def _legend(trend: Trend, over: Sequence[RuleOutcome], y: float) -> tuple[list[str], float]:
    """What each thing drawn is, then the periods over their limit, newest first; and the foot of the page."""
    rows = [
        (line(0, -6, SAMPLE, -6, INK), "sum of the month so far: over above zero, short below"),
        (_band_sample(), "what the period may be off"),
        *((_mark(SAMPLE / 2, -6, same[0]), ACTIONS[action]) for action, same in _by_action(over)),
        *((_mark(SAMPLE / 2, -6, each), _over_in_words(each)) for each in [*reversed(over)][:SHOWN]),
    ]
    if len(over) > SHOWN:
        rows.append(("", f"and {len(over) - SHOWN} earlier ones"))
    return legend(rows if trend.days else rows[:2], y)


def _by_action(over: Sequence[RuleOutcome]) -> Iterator[tuple[str, list[RuleOutcome]]]:
    for action in ACTIONS:
        if same := [each for each in over if each.action == action]:
            yield action, same


def _band_sample() -> str:
    return (
        f'<rect x="0" y="-16" width="{SAMPLE}" height="16" fill="{BAND}"/>'
        f"{line(0, -16, SAMPLE, -16, BLUE, dashes='5 3')}{line(0, 0, SAMPLE, 0, BLUE, dashes='5 3')}"
    )


def _round_step(raw: float) -> float:
    """The next of 1, 2, 5, 10, 20, … that is not below."""
    power = 1.0
    while power * 10 < raw:
        power *= 10
    return next((power * each for each in STEPS if power * each >= raw), power * 10)

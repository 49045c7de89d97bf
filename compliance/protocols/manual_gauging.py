"""Manual tank gauging: a week's change and the mean of four, against the table (40 CFR 280.43(b)).

Change = mean of two start readings minus mean of two end readings, in gallons; a loss is positive. The standards
are exceeded, not met: equality passes. Between the rows of the table for 551 to 1,000 gal lie other diameters; the row
is an explicit choice.
"""

from collections.abc import Sequence
from decimal import Decimal

from compliance.protocols.criteria import Criterion, GaugingRow
from compliance.protocols.levels import off_the_chart
from compliance.protocols.readings import Readings, exact, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, check, conclude, stated
from equipment.physics.charts import Chart, OffTheChart, chart_volume

ENDS = ("start_first", "start_second", "end_first", "end_second")
WEEKS = 4
SENSE = "without sign, not rounded: a change that equals the standard passes"


def judge(readings: Readings, setting: Setting) -> Verdict:
    tank_class = readings.word("tank_class")
    change = weekly_change(readings, setting.chart)
    if tank_class is None:
        rows = setting.numbers.latest(setting.numbers.criteria.gauging)
        return conclude([check(_criterion(rows[0], "weekly"), None, needs=["tank_class", *_lacking(change)])])
    row = setting.numbers.gauging(tank_class)
    mean = _mean(readings, change)
    return conclude(
        [
            check(_criterion(row, "weekly"), None if change is None else abs(change), needs=_lacking(change)),
            *stated([check(_criterion(row, "monthly"), None if mean is None else abs(mean))]),
            check(_criterion(row, "idle"), readings.number("hours"), part="procedure", needs=["hours"]),
        ],
        [
            *_notes(readings, change),
            *off_the_chart([readings.number(f"{end}_in") for end in ENDS], setting.chart),
        ],
    )


def weekly_change(readings: Readings, chart: Chart | None) -> Decimal | None:
    """Gallons lost over the idle time, from four volumes, or from four levels and the tank's chart, or as stated."""
    volumes = [_gallons(readings, end, chart) for end in ENDS]
    known = [each for each in volumes if each is not None]
    if len(known) == len(ENDS):
        return (known[0] + known[1] - known[2] - known[3]) / 2
    return readings.number("difference_gal")


def month_mean(changes: Sequence[Decimal]) -> Decimal:
    """The mean of the weekly changes, sign and all. ValueError unless there are four."""
    if len(changes) != WEEKS:
        raise ValueError(f"a month's mean is made of four weekly changes, not {len(changes)}")
    return sum(changes, Decimal(0)) / WEEKS


def _mean(readings: Readings, change: Decimal | None) -> Decimal | None:
    """Of the four weeks where they are known; of that and a stated mean the one further from zero."""
    worked, stated_gal = _worked_mean(readings, change), readings.number("month_mean_gal")
    return max((each for each in (worked, stated_gal) if each is not None), key=abs, default=None)


def _worked_mean(readings: Readings, change: Decimal | None) -> Decimal | None:
    earlier = [row.number("difference_gal") for row in readings.rows("earlier_weeks")]
    known = [each for each in (*earlier, change) if each is not None]
    return month_mean(known) if len(known) == len(earlier) + 1 == WEEKS else None


def _notes(readings: Readings, change: Decimal | None) -> list[str]:
    worked, stated_gal = _worked_mean(readings, change), readings.number("month_mean_gal")
    weeks = len(readings.rows("earlier_weeks"))
    if weeks not in (0, WEEKS - 1):
        return [
            f"A month's mean is made of four weeks; {weeks} earlier ones are stated, and three are needed."
        ]
    if worked is None or stated_gal is None or worked == stated_gal:
        return []
    return [
        f"The stated mean of {shown(stated_gal)} gal is not that of the four weeks, {shown(worked)} gal; the larger "
        "counts. Correct the record."
    ]


def _gallons(readings: Readings, end: str, chart: Chart | None) -> Decimal | None:
    stated_gal, level = readings.number(f"{end}_gal"), readings.number(f"{end}_in")
    if stated_gal is not None or level is None or chart is None:
        return stated_gal
    try:
        return exact(chart_volume(chart, float(level)))
    except OffTheChart:
        return None


def _lacking(change: Decimal | None) -> list[str]:
    return [] if change is not None else [f"{end}_gal" for end in ENDS]


def _criterion(row: GaugingRow, which: str) -> Criterion:
    """A row's number as a criterion: the week's or the month's gallons, or the hours without traffic."""
    idle = which == "idle"
    values = {"weekly": row.weekly_gal, "monthly": row.monthly_gal, "idle": row.idle_h}
    titles = {"weekly": "Change over a week", "monthly": "Mean of four weeks", "idle": "Time without traffic"}
    return Criterion(
        id=f"gauging-{which}",
        title=f"{titles[which]}, tank {row.tank_class}",
        unit="hours" if idle else "gal",
        comparison=">=" if idle else "<=",
        value=values[which],
        rounding="compared unrounded" if idle else SENSE,
        effective=row.effective,
        cite=row.cite,
        verified=row.verified,
        jurisdiction=row.jurisdiction,
    )

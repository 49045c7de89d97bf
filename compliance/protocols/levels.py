"""Level readings that a water test takes before and after, and how the test was done."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Literal

from compliance.protocols.readings import Readings, exact, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, check
from equipment.physics.charts import Chart


def level_fall(readings: Readings) -> Decimal | None:
    """Start minus end. Where the two readings and a stated change differ, the one further from zero counts."""
    start, end = readings.number("level_start_in"), readings.number("level_end_in")
    read = start - end if start is not None and end is not None else None
    changes = [each for each in (read, readings.number("level_change_in")) if each is not None]
    return max(changes, key=abs, default=None)


def read_twice(readings: Readings) -> list[str]:
    """A note when the stated change is not the difference of the stated levels."""
    start, end = readings.number("level_start_in"), readings.number("level_end_in")
    change = readings.number("level_change_in")
    if start is None or end is None or change is None or start - end == change:
        return []
    return [
        f"The stated change of {shown(change)} in is not the difference of the levels, {shown(start - end)} in; "
        "the larger counts. Correct the record."
    ]


def liquid_or_vacuum(readings: Readings) -> Literal["liquid", "vacuum"] | None:
    """The method as stated, or as the numbers show; with neither, water, which then lists what it needs."""
    method = readings.word("method")
    if method is None:
        return "vacuum" if readings.states("vacuum_start_in_wc", "vacuum_end_in_wc") else "liquid"
    if method == "liquid":
        return "liquid"
    return "vacuum" if method == "vacuum" else None


def off_the_chart(levels_in: Iterable[Decimal | None], chart: Chart | None) -> list[str]:
    """A note for levels that the tank's own chart does not hold: read at another tank, or written wrong."""
    if chart is None:
        return []
    low, high = exact(chart.rows[0].depth_in), exact(chart.full_in)
    outside = [shown(each) for each in levels_in if each is not None and not low <= each <= high]
    if not outside:
        return []
    return [
        f"{', '.join(dict.fromkeys(outside))} in is not on the tank's chart, which holds {shown(low)} to "
        f"{shown(high)} in; read it again and correct the record."
    ]


def gauge_checks(gauge_in: Decimal | None, stick_in: Decimal | None, setting: Setting) -> list[Check]:
    """A gauge's level agrees with the stick's, where both were read."""
    if gauge_in is None or stick_in is None or not setting.numbers.has("gauge-against-stick"):
        return []
    return [check(setting.numbers.number("gauge-against-stick"), abs(gauge_in - stick_in))]

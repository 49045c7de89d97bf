"""Inspection of an overfill device: does it act low enough, by the tank's own chart (40 CFR 280.20(c), 280.35(a)(2)).

Height = seat to bottom - upper tube - reference offset; the volume there over the capacity of the same chart.
Volumes are compared as they are: a percentage that was cut off on paper is unsafe near 95. A device may instead act a
time before the tank is overfilled, or before any fitting is wetted; an option counts when its number was stated.
"""

from decimal import Decimal

import msgspec

from compliance.protocols.levels import gauge_checks, off_the_chart
from compliance.protocols.readings import Readings, exact, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, either, stated, yes
from equipment.physics.charts import OffTheChart, chart_volume

SHUTOFF, ALARM, RESTRICTOR = "automatic shutoff", "high-level alarm", "vent flow restrictor"
RESTRICT_TIME = "overfill-restrict-minutes"
TIMES = {ALARM: "overfill-alarm-minutes", RESTRICTOR: RESTRICT_TIME}
LEVEL_NEEDS = ("acts_volume_gal", "capacity_gal")


class Level(msgspec.Struct, frozen=True):
    """Where the device acts: inches over the bottom, gallons there, gallons of the full tank; None when unknown."""

    height_in: Decimal | None
    acts_gal: Decimal | None
    capacity_gal: Decimal | None
    percent: Decimal | None


def judge(readings: Readings, setting: Setting) -> Verdict:
    """By the device's type; without one, only where every type would get the same answer."""
    level = device_level(readings, setting)
    if setting.overfill_type in (SHUTOFF, ALARM, RESTRICTOR):
        return _judge_type(readings, setting, level, str(setting.overfill_type))
    verdicts = [_judge_type(readings, setting, level, kind) for kind in (SHUTOFF, ALARM, RESTRICTOR)]
    if len({each.outcome for each in verdicts}) == 1:
        return verdicts[-1]
    strictest, missing = verdicts[-1], [name for each in verdicts for name in each.missing]
    return msgspec.structs.replace(
        strictest,
        outcome="incomplete",
        missing=("overfill_type", *dict.fromkeys(missing)),
        notes=("Whether that is low enough hangs on the device's type, which the register does not say.",),
    )


def device_level(readings: Readings, setting: Setting) -> Level:
    """From the worksheet's numbers, then from the tank's chart, then from the stated percentage."""
    height = device_height(readings)
    acts, full = readings.number("acts_volume_gal"), readings.number("capacity_gal")
    if setting.chart is not None:
        full = exact(setting.chart.capacity_gal) if full is None else full
        acts = _charted(setting, height) if acts is None else acts
    percent = acts * 100 / full if acts is not None and full else readings.number("set_level_pct")
    return Level(height, acts, full, percent)


def device_height(readings: Readings) -> Decimal | None:
    """Inches over the tank bottom at which the device acts; measured parts count before a stated height."""
    parts = [readings.number(name) for name in ("seat_to_bottom_in", "upper_tube_in", "reference_offset_in")]
    known = [each for each in parts if each is not None]
    if len(known) == len(parts):
        return known[0] - known[1] - known[2]
    return readings.number("acts_height_in")


def latest_volume(capacity_gal: Decimal, fill_rate_gpm: Decimal, minutes: Decimal) -> Decimal:
    """The most gallons at which a device acts this long before the tank is overfilled at this fill rate."""
    return capacity_gal - fill_rate_gpm * minutes


def _judge_type(readings: Readings, setting: Setting, level: Level, kind: str) -> Verdict:
    chosen = either(_options(readings, setting, level, kind))
    return conclude(
        [
            chosen,
            *_start_checks(chosen, setting, level),
            *_state_checks(readings, setting),
            *(_gauge_checks(readings, setting) if kind == ALARM else []),
        ],
        [*_notes(readings, setting, kind), *_on_time(chosen, readings, setting, level, kind)],
    )


def _on_time(chosen: Check, readings: Readings, setting: Setting, level: Level, kind: str) -> list[str]:
    """For a device that acts too late: up to which volume it would still be in time at the fill rate used."""
    rate = readings.number("fill_rate_gpm")
    if chosen.holds is not False or kind == SHUTOFF or not rate or level.capacity_gal is None:
        return []
    minutes = exact(setting.numbers.number(TIMES[kind]).value)
    latest = latest_volume(level.capacity_gal, rate, minutes)
    return [
        f"At {shown(rate)} gal a minute it acts in time, {shown(minutes)} minutes before the tank is overfilled, up to "
        f"{latest:.0f} gal."
    ]


def _options(readings: Readings, setting: Setting, level: Level, kind: str) -> list[Check]:
    """The level by volume first, then the alternatives of the type."""
    numbers = setting.numbers
    dry = yes(numbers.number("overfill-fittings-dry"), readings.flag("fittings_stay_dry"))
    time = _minutes_before_full(readings, level)
    if kind == SHUTOFF:
        return [check(numbers.number("overfill-shutoff"), level.percent, needs=LEVEL_NEEDS), dry]
    by_time = check(numbers.number(TIMES[kind]), time)
    return [check(numbers.number("overfill-alert"), level.percent, needs=LEVEL_NEEDS), by_time]


def _start_checks(chosen: Check, setting: Setting, level: Level) -> list[Check]:
    """Where restriction by time is chosen, some states also bound the level at which it starts."""
    if chosen.criterion.id != RESTRICT_TIME or not setting.numbers.has("overfill-restrict-start"):
        return []
    return [check(setting.numbers.number("overfill-restrict-start"), level.percent, needs=LEVEL_NEEDS)]


def _minutes_before_full(readings: Readings, level: Level) -> Decimal | None:
    rate = readings.number("fill_rate_gpm")
    if rate and level.acts_gal is not None and level.capacity_gal is not None:
        return (level.capacity_gal - level.acts_gal) / rate
    return readings.number("before_full_min")


def _state_checks(readings: Readings, setting: Setting) -> list[Check]:
    """That it acts has to be shown; free movement and damage count when stated. No such duty before the 2015 rule."""
    numbers = setting.numbers
    if not numbers.has("overfill-acts"):
        return []
    sound = numbers.number("overfill-sound")
    return [
        yes(numbers.number("overfill-acts"), readings.flag("acts_at_level"), needs=["acts_at_level"]),
        *stated([yes(sound, readings.flag(name), of=name) for name in ("moves_freely", "undamaged")]),
    ]


def _gauge_checks(readings: Readings, setting: Setting) -> list[Check]:
    """An alarm that belongs to a gauge is as right as the gauge."""
    return gauge_checks(readings.number("gauge_level_in"), readings.number("stick_level_in"), setting)


def _charted(setting: Setting, height: Decimal | None) -> Decimal | None:
    if height is None or setting.chart is None:
        return None
    try:
        return exact(chart_volume(setting.chart, float(height)))
    except OffTheChart:
        return None


def _notes(readings: Readings, setting: Setting, kind: str) -> list[str]:
    height, written = device_height(readings), readings.number("acts_height_in")
    notes = off_the_chart([height], setting.chart)
    if height is not None and written is not None and height != written:
        notes.append(
            f"The measured parts put the device at {shown(height)} in, the record says {shown(written)} in; check both."
        )
    if kind == RESTRICTOR and setting.numbers.has("overfill-restrict-alarm-minutes"):
        rule = setting.numbers.number("overfill-restrict-alarm-minutes")
        notes.append(
            f"The restriction also needs an alarm {rule.value:g} minutes before overfill ({rule.cite})."
        )
    return notes

"""Tightness test of a containment sump (PEI RP 1200 section 6.5), and the low-level one of the 2019 edition.

A change either way fails: water that comes in shows the same hole. Section 6.6 is the accelerated test in one edition
and the low-level test in the 2019 edition, so the record keeps edition and section. The low-level test hangs on a
sensor that stops the pump, and on an agency that accepts it. "About 6 in" over the sensor is taken as 6 in at least.
"""

from decimal import Decimal

from compliance.protocols.levels import level_fall, liquid_or_vacuum, read_twice
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated, yes


def judge(readings: Readings, setting: Setting) -> Verdict | None:
    """A verdict for water; None for a method whose limit is nowhere published, which for a sump is vacuum as well."""
    if liquid_or_vacuum(readings) != "liquid":
        return None
    checks = _water_checks(readings, setting)
    if readings.flag("low_level"):
        checks += _low_level_checks(readings, setting)
    else:
        checks += _depth_checks(readings, setting)
    return conclude(checks, read_twice(readings))


def _water_checks(readings: Readings, setting: Setting) -> list[Check]:
    numbers = setting.numbers
    fall = level_fall(readings)
    return [
        check(
            numbers.number("sump-water-change"),
            None if fall is None else abs(fall),
            needs=["level_start_in", "level_end_in"],
        ),
        check(
            numbers.number("water-test-minutes"),
            readings.number("minutes"),
            part="procedure",
            needs=["minutes"],
        ),
    ]


def _depth_checks(readings: Readings, setting: Setting) -> list[Check]:
    """Four inches over the highest entry, or, in a sump too shallow for that, full to an inch under its top."""
    numbers = setting.numbers
    over = check(
        numbers.number("sump-above-penetration"), readings.number("above_penetration_in"), part="procedure"
    )
    under = check(numbers.number("sump-below-top"), readings.number("below_top_in"), part="procedure")
    found = stated([over, under])
    kept = [each for each in found if each.holds]
    return kept or found


def _low_level_checks(readings: Readings, setting: Setting) -> list[Check]:
    numbers = setting.numbers
    if not numbers.has("sump-low-level-over-sensor"):
        return []
    return [
        check(
            numbers.number("sump-low-level-over-sensor"),
            readings.number("above_sensor_in"),
            part="procedure",
            needs=["above_sensor_in"],
        ),
        yes(
            numbers.number("sump-low-level-shutdown"),
            readings.flag("sensor_stopped_pump"),
            needs=["sensor_stopped_pump"],
        ),
        check(numbers.number("sump-low-level-accepted"), Decimal(1), part="procedure"),
    ]

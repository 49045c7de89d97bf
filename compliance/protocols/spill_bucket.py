"""Tightness test of a spill bucket, with water or with vacuum (PEI RP 1200 sections 6.2 and 6.3).

The clause on water speaks of a drop; a rise is no pass and no failure: the test is void and is done again. Section
numbers moved between editions, so the record keeps the procedure's edition and section in words.
"""

from compliance.protocols.levels import level_fall, liquid_or_vacuum, read_twice
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.vacuum import vacuum_checks
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated


def judge(readings: Readings, setting: Setting) -> Verdict | None:
    """A verdict for water and vacuum; None for a method whose limit is nowhere published."""
    match liquid_or_vacuum(readings):
        case "liquid":
            return conclude(_water_checks(readings, setting), read_twice(readings))
        case "vacuum":
            return conclude(vacuum_checks(readings, setting))
        case _:
            return None


def _water_checks(readings: Readings, setting: Setting) -> list[Check]:
    numbers = setting.numbers
    fall = level_fall(readings)
    asked = [
        check(numbers.number("bucket-below-rim"), readings.number("below_rim_in"), part="procedure"),
        check(
            numbers.number("bucket-settling-minutes"), readings.number("settling_minutes"), part="procedure"
        ),
        check(numbers.number("bucket-reading-step"), readings.number("reading_step_in"), part="procedure"),
    ]
    return [
        check(numbers.number("bucket-water-fall"), fall, needs=["level_start_in", "level_end_in"]),
        *stated(
            [check(numbers.number("bucket-water-rise"), None if fall is None else -fall, part="procedure")]
        ),
        check(
            numbers.number("water-test-minutes"),
            readings.number("minutes"),
            part="procedure",
            needs=["minutes"],
        ),
        *stated(asked),
    ]

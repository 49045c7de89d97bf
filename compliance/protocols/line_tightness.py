"""Line tightness test, and the precision test of an electronic line leak detector (40 CFR 280.44(b)).

0.1 gal/h at 1.5 times operating pressure. An electronic test at another pressure is carried to 1.5 times by the square
root of the pressures (EPA UST Technical Compendium, Release Detection, question 3).
"""

from decimal import Decimal

import msgspec

from compliance.protocols.leak_rates import probability_checks, rate_checks
from compliance.protocols.line_leak_detector import ML_A_GALLON
from compliance.protocols.readings import Readings, exact, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated
from equipment.physics.orifice import rate_at_pressure

MINUTES_AN_HOUR = 60


def judge(readings: Readings, setting: Setting) -> Verdict:
    """A test by hand or instrument: the pressure is part of the criterion and has to be stated."""
    numbers = setting.numbers
    pressure = check(
        numbers.number("line-pressure"),
        pressure_ratio(readings),
        part="procedure",
        needs=["pressure_ratio"],
    )
    rates = rate_checks(readings, numbers.number("line-leak"), leak_rate(readings), needs=["leak_rate_gph"])
    return conclude([*rates, pressure, *probability_checks(readings, setting)])


def judge_result(readings: Readings, setting: Setting) -> Verdict:
    """The rate alone, as a month's or year's result states it; pressure stands in the test's own record."""
    leak = setting.numbers.number("line-leak")
    return conclude(rate_checks(readings, leak, leak_rate(readings), needs=["leak_rate_gph"]))


def judge_electronic(readings: Readings, setting: Setting) -> Verdict:
    """The detector's own test: it may look for 3, 0.2 or 0.1 gal/h; only 0.1 replaces the line test."""
    numbers = setting.numbers
    leak = numbers.number("line-leak")
    found = readings.number("detectable_leak_gph")
    sought = leak if found is None else msgspec.structs.replace(leak, value=max(leak.value, float(found)))
    rates = rate_checks(readings, sought, leak_rate(readings), needs=["leak_rate_gph"])
    rates = [each for each in rates if each.criterion.id != leak.id]
    return conclude([*rates, *_replaces(readings, setting)], _what_it_is(readings, setting))


def leak_rate(readings: Readings) -> Decimal | None:
    """gal/h as stated, or from the volume that held the pressure."""
    rate = readings.number("leak_rate_gph")
    if rate is not None:
        return rate
    lost, minutes = _lost(readings)
    if lost is None or not minutes:
        return None
    return lost / ML_A_GALLON * MINUTES_AN_HOUR / minutes


def pressure_ratio(readings: Readings) -> Decimal | None:
    """Test pressure over operating pressure, from the pressures where both were read."""
    test, operating = readings.number("test_psi"), readings.number("operating_psi")
    if test is not None and operating:
        return test / operating
    return readings.number("pressure_ratio")


def detectable_at_criterion(readings: Readings, setting: Setting) -> Decimal | None:
    """The leak that the test finds, carried to 1.5 times operating pressure."""
    found, ratio = readings.number("detectable_leak_gph"), pressure_ratio(readings)
    if found is None or not ratio:
        return None
    return rate_at_pressure(found, ratio, exact(setting.numbers.number("line-pressure").value))


def _lost(readings: Readings) -> tuple[Decimal | None, Decimal | None]:
    lost, minutes = readings.number("lost_ml"), readings.number("minutes")
    if lost is not None:
        return lost, minutes
    rows = readings.rows("readings")
    added = [each for row in rows if (each := row.number("added_ml")) is not None]
    times = [each for row in rows if (each := row.number("minutes")) is not None]
    return (sum(added, Decimal(0)), max(times) - min(times)) if added and times else (None, None)


def _replaces(readings: Readings, setting: Setting) -> list[Check]:
    """Held against 0.1 gal/h only where the test claims to look for it."""
    leak = setting.numbers.number("line-leak")
    found = readings.number("detectable_leak_gph")
    if found is None or found > exact(leak.value):
        return []
    return stated([check(leak, detectable_at_criterion(readings, setting), part="procedure")])


def _what_it_is(readings: Readings, setting: Setting) -> list[str]:
    leak = setting.numbers.number("line-leak")
    found = readings.number("detectable_leak_gph")
    if found is None or found <= exact(leak.value):
        return []
    return [
        f"It looks for {shown(found)} gal/h; only a test for {leak.value:g} gal/h replaces the line tightness test."
    ]

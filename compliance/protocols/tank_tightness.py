"""Tank tightness test and the 30-day gauge test (40 CFR 280.43(c) and (d)).

0.1 and 0.2 gal/h, found with 95 percent probability and 5 percent false alarms at most. Low product lessens a leak at
the bottom; where ground water stands above the bottom, listings commonly ask for 1 psi net outward pressure there.
"""

from compliance.protocols.leak_rates import probability_checks, rate_checks
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude


def judge(readings: Readings, setting: Setting) -> Verdict:
    """A tightness test: 0.1 gal/h."""
    return _judge(readings, setting, "tank-leak")


def judge_gauge(readings: Readings, setting: Setting) -> Verdict:
    """A gauge's leak test of the month: 0.2 gal/h."""
    return _judge(readings, setting, "gauge-leak")


def _judge(readings: Readings, setting: Setting, leak: str) -> Verdict:
    rate = readings.number("leak_rate_gph")
    rates = rate_checks(readings, setting.numbers.number(leak), rate, needs=["leak_rate_gph"])
    return conclude([*rates, *probability_checks(readings, setting), *_groundwater_checks(readings, setting)])


def _groundwater_checks(readings: Readings, setting: Setting) -> list[Check]:
    water = readings.number("groundwater_above_bottom_in")
    if water is None or water <= 0:
        return []
    return [
        check(
            setting.numbers.number("bottom-pressure"),
            readings.number("bottom_pressure_psi"),
            part="procedure",
            needs=["bottom_pressure_psi"],
        )
    ]

"""Yearly tests of release-detection equipment: what each paragraph of 40 CFR 280.40(a)(3) asks to be shown.

The findings are yes or no. The record says of each component whether it meets the criteria or needs action
(280.45(b)(1)): one that needs action does not pass. Residue that was found is cleaned off and is no failure by itself.
A probe's level is also held against the stick, where both were read.
"""

from compliance.protocols.levels import gauge_checks
from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, conclude, stated, yes

WHOLE = ("float_moves", "shaft_ok", "cables_ok")


def judge_controller(readings: Readings, setting: Setting) -> Verdict:
    """Alarm, configuration and battery back-up of a console: all three have to be shown."""
    shown = {
        "alarm_ok": "controller-alarm",
        "configuration_ok": "controller-configuration",
        "battery_ok": "controller-battery",
    }
    return conclude([*_shown(readings, setting, shown), *_action(readings, setting)])


def judge_probe(readings: Readings, setting: Setting) -> Verdict:
    """Alarm and communication have to be shown; float, shaft, cables and place count as far as the device has them."""
    numbers = setting.numbers
    shown = {"alarm_ok": "probe-alarm", "communicates": "probe-communicates"}
    whole = [yes(numbers.number("probe-whole"), readings.flag(name), of=name) for name in WHOLE]
    place = yes(numbers.number("probe-in-place"), readings.flag("in_position"))
    return conclude(
        [
            *_shown(readings, setting, shown),
            *stated([*whole, place]),
            *gauge_checks(readings.number("reading_in"), readings.number("stick_in"), setting),
            *_action(readings, setting),
        ]
    )


def judge_vacuum(readings: Readings, setting: Setting) -> Verdict:
    """A vacuum pump or pressure gauge communicates with sensors and console."""
    alarm = yes(setting.numbers.number("vacuum-alarm"), readings.flag("alarm_ok"))
    shown = {"communicates": "vacuum-communicates"}
    return conclude([*_shown(readings, setting, shown), *stated([alarm]), *_action(readings, setting)])


def _shown(readings: Readings, setting: Setting, criteria: dict[str, str]) -> list[Check]:
    return [
        yes(setting.numbers.number(criterion), readings.flag(name), needs=[name])
        for name, criterion in criteria.items()
    ]


def _action(readings: Readings, setting: Setting) -> list[Check]:
    needed = readings.flag("action_needed")
    return stated([yes(setting.numbers.number("needs-no-action"), None if needed is None else not needed)])

"""Tests of a dock's own equipment: supply piping under pressure (8 CCR 5569(a)(4)), and the emergency shutoff.

Piping holds its highest operating pressure for half an hour without loss. Fuel that warms gains pressure and can hide a
loss, fuel that cools loses some: the rule is silent about it, so a change of temperature is noted beside the outcome.
"""

from decimal import Decimal

import msgspec

from compliance.protocols.readings import Readings, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated, yes

FOUND = ("reachable", "sign_present")


def judge_line(readings: Readings, setting: Setting) -> Verdict:
    """The loss is the result; the time and the pressure at the start are the procedure."""
    numbers = setting.numbers
    start, end = readings.number("start_psi"), readings.number("end_psi")
    loss = start - end if start is not None and end is not None else None
    return conclude(
        [
            check(numbers.number("dock-line-loss"), loss, needs=_unstated(readings, "start_psi", "end_psi")),
            check(
                numbers.number("dock-line-minutes"),
                readings.number("minutes"),
                part="procedure",
                needs=["minutes"],
            ),
            _pressure(readings, setting),
        ],
        _on_temperature(readings.number("start_degf"), readings.number("end_degf")),
    )


def judge_shutoff(readings: Readings, setting: Setting) -> Verdict:
    """It stops everything and stays off; reach, sign and distance count where they were stated."""
    numbers = setting.numbers
    feet = readings.number("distance_ft")
    return conclude(
        [
            yes(numbers.number("shutoff-stops-all"), readings.flag("stops_all"), needs=["stops_all"]),
            yes(numbers.number("shutoff-hand-reset"), readings.flag("hand_reset"), needs=["hand_reset"]),
            *stated([yes(numbers.number("shutoff-found"), readings.flag(name), of=name) for name in FOUND]),
            *stated([check(numbers.number(f"shutoff-not-{way}"), feet) for way in ("nearer", "farther")]),
        ]
    )


def _pressure(readings: Readings, setting: Setting) -> Check:
    """The start against the system's highest operating pressure; one of zero is as good as none stated."""
    start, highest = readings.number("start_psi"), readings.number("max_operating_psi")
    criterion = msgspec.structs.replace(
        setting.numbers.number("dock-line-pressure"), value=float(highest or 0)
    )
    needs = [*_unstated(readings, "start_psi"), *([] if highest else ["max_operating_psi"])]
    return check(criterion, start if highest else None, part="procedure", needs=needs)


def _unstated(readings: Readings, *names: str) -> list[str]:
    return [name for name in names if readings.number(name) is None]


def _on_temperature(start: Decimal | None, end: Decimal | None) -> list[str]:
    if start is None or end is None or start == end:
        return []
    way = "warmed and may hide a loss" if end > start else "cooled and may look like a loss"
    return [
        f"The line went from {shown(start)} to {shown(end)} °F: it {way}. Let it settle and test again if in doubt."
    ]

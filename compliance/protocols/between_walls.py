"""Tightness of the space between walls, by vacuum, pressure or liquid (40 CFR 280.33(d); 23 CCR 2637).

No common limit is published: tight is what the procedure used calls tight, so the record states what it allows. A
space that changed by nothing is tight under any. Liquid counts either way, since what comes in shows the same hole.
With liquid between a tank's walls PEI RP 1200 section 4.3 asks for 8 hours without a delivery and for no dispensing:
both move the walls. In monitoring, liquid in a space that should be dry is no pass (280.43(g), 280.50(b)).
"""

import msgspec

from compliance.protocols.readings import Readings, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated, yes


class _Way(msgspec.Struct, frozen=True):
    """Names of a method's readings: at the start, at the end, what the procedure allows; and their unit."""

    start: str
    end: str
    allowed: str
    unit: str


WAYS = {
    "vacuum": _Way("vacuum_start_in_hg", "vacuum_end_in_hg", "allowed_loss_in_hg", "in_hg"),
    "pressure": _Way("pressure_start_psi", "pressure_end_psi", "allowed_loss_psi", "psi"),
    "liquid": _Way("level_start_in", "level_end_in", "allowed_change_in", "in"),
}


def judge(readings: Readings, setting: Setting) -> Verdict:
    """By the method as stated, or as the numbers show; with neither, the method is what is missing."""
    method = readings.word("method") or _method_of(readings)
    if method not in WAYS:
        return conclude([check(setting.numbers.number("between-walls"), None, needs=["method"])])
    liquid = method == "liquid"
    return conclude(
        [
            _change(readings, setting, WAYS[method], either_way=liquid),
            *_start(readings, setting, WAYS[method]),
            *_length(readings, setting),
            *(_rest(readings, setting) if liquid else []),
        ],
        _notes(readings),
    )


def judge_monitoring(readings: Readings, setting: Setting) -> Verdict | None:
    """A month of interstitial monitoring fails by liquid that was found; a dry space says nothing of its gauge."""
    if not readings.flag("interstice_liquid"):
        return None
    return conclude([yes(setting.numbers.number("interstice-dry"), False)])


def _method_of(readings: Readings) -> str | None:
    return next((name for name, way in WAYS.items() if readings.states(way.start, way.end)), None)


def _change(readings: Readings, setting: Setting, way: _Way, *, either_way: bool) -> Check:
    start, end = readings.number(way.start), readings.number(way.end)
    allowed = readings.number(way.allowed)
    change = start - end if start is not None and end is not None else None
    if change is not None and either_way:
        change = abs(change)
    unsaid = change is not None and change > 0 and allowed is None
    criterion = msgspec.structs.replace(
        setting.numbers.number("between-walls"), unit=way.unit, value=float(allowed or 0)
    )
    lacking = [name for name in (way.start, way.end) if readings.number(name) is None]
    return check(criterion, None if unsaid else change, needs=lacking or [way.allowed])


def _start(readings: Readings, setting: Setting, way: _Way) -> list[Check]:
    """Two walls without vacuum, pressure or liquid between them show nothing by staying as they were."""
    criterion = msgspec.structs.replace(setting.numbers.number("between-walls-start"), unit=way.unit)
    return stated([check(criterion, readings.number(way.start), part="procedure")])


def _length(readings: Readings, setting: Setting) -> list[Check]:
    least = readings.number("procedure_minutes")
    criterion = msgspec.structs.replace(
        setting.numbers.number("between-walls-minutes"), value=float(least or 0)
    )
    return [check(criterion, readings.number("minutes"), part="procedure", needs=["minutes"])]


def _rest(readings: Readings, setting: Setting) -> list[Check]:
    numbers = setting.numbers
    if not numbers.has("liquid-test-rest"):
        return []
    return stated(
        [
            check(numbers.number("liquid-test-rest"), readings.number("since_delivery_h"), part="procedure"),
            yes(numbers.number("liquid-test-still"), readings.flag("dispensing_stopped"), part="procedure"),
        ]
    )


def _notes(readings: Readings) -> list[str]:
    notes = []
    if readings.number("procedure_minutes") is None:
        notes.append(
            "The least time that the procedure asks for is not stated, so the length was not judged."
        )
    before, after = readings.number("groundwater_start_in"), readings.number("groundwater_end_in")
    if before is not None and after is not None and before != after:
        notes.append(
            f"Ground water went from {shown(before)} to {shown(after)} in meanwhile; it presses on the outer wall."
        )
    return notes

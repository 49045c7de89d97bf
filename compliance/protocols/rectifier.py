"""The 60-day check of a rectifier: it runs properly (40 CFR 280.31(c)).

Without current nothing is protected, whatever was reported. How far the output may lie from that of the last test is
nowhere published; a difference over a fifth is noted for whoever knows the system (common practice, no source).
"""

from decimal import Decimal

from compliance.protocols.readings import Readings, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, check, conclude, stated, yes

NOTABLE = Decimal("0.2")
OUTPUTS = (("volts", "normal_volts", "V"), ("amps", "normal_amps", "A"))


def judge(readings: Readings, setting: Setting) -> Verdict:
    """Current has to be stated; voltage and switch count where they are."""
    numbers = setting.numbers
    return conclude(
        [
            check(numbers.number("rectifier-current"), readings.number("amps"), needs=["amps"]),
            *stated([check(numbers.number("rectifier-voltage"), readings.number("volts"))]),
            *stated([yes(numbers.number("rectifier-on"), readings.flag("switched_on"))]),
        ],
        _notes(readings),
    )


def _notes(readings: Readings) -> list[str]:
    notes = []
    for name, usual_name, unit in OUTPUTS:
        found, usual = readings.number(name), readings.number(usual_name)
        if found is not None and usual and abs(found - usual) > NOTABLE * usual:
            notes.append(
                f"{shown(found)} {unit} is more than a fifth away from the {shown(usual)} {unit} of the last test of "
                "the protection; have it looked at."
            )
    return notes

"""Yearly test of a line leak detector with a simulated leak (40 CFR 280.44(a); PEI RP 1200 section 9.1, appendix C-9).

The leak is carried to 10 psi by the square root of the pressures. A leak larger than 3 gal/h that is found proves
nothing, nor does a smaller one that is missed. A detector that restricts the flow must also hold its metering pressure,
trip when the line is bled, and leave the pump cycling; an electronic one answers with an alarm or a shutdown.
"""

from decimal import Decimal

from compliance.protocols.criteria import Criterion
from compliance.protocols.readings import Readings, exact
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude, stated, yes
from equipment.physics.orifice import rate_at_pressure
from equipment.physics.units import LITRES_A_GALLON

ML_A_GALLON = exact(float(LITRES_A_GALLON * 1000))
SECONDS_AN_HOUR = 3600
SECONDS_A_MINUTE = 60
MINUTES_AN_HOUR = 60
HALF_A_MILLILITRE = Decimal("0.5")
# Half of the tenth of a millilitre a minute to which a stated rate is written (common practice, no source).
LAST_DIGIT_ML_MIN = Decimal("0.05")
RESTRICTED = "flow restricted"


def judge(readings: Readings, setting: Setting) -> Verdict:
    numbers = setting.numbers
    leak = simulated_leak(readings, exact(numbers.number("simulated-leak-psi").value))
    size = check(
        numbers.number("simulated-leak"),
        _as_read(leak, numbers.number("simulated-leak"), readings),
        part="procedure",
        needs=_leak_needs(readings),
    )
    if readings.flag("simulated_leak") is False:
        made = yes(numbers.number("leak-is-made"), False, part="procedure")
        return conclude(
            [made], ["No leak was made on the line: pressing the unit's own test key proves nothing."]
        )
    small = leak is not None and leak < exact(numbers.number("simulated-leak").value) - rounding(readings)
    answers = _answer_checks(readings, setting)
    if small and any(each.holds is False for each in answers):
        return conclude(
            [*_as_procedure(answers), size],
            [
                "The leak was smaller than the one to be found: missing it proves nothing. Set it and test again."
            ],
        )
    return conclude([*answers, *_metering_checks(readings, setting), size])


def simulated_leak(readings: Readings, wanted_psi: Decimal) -> Decimal | None:
    """The leak in gal/h at the wanted pressure; a volume caught counts less its reading error of half a millilitre."""
    psi = readings.number("psi")
    ml, seconds = readings.number("leak_ml"), readings.number("leak_collected_s")
    rate = readings.number("leak_rate_gph")
    if ml is not None and seconds:
        rate = max(ml - HALF_A_MILLILITRE, Decimal(0)) / ML_A_GALLON * SECONDS_AN_HOUR / seconds
    if rate is None or not psi:
        return None
    return rate_at_pressure(rate, psi, wanted_psi)


def _as_read(leak: Decimal | None, wanted: Criterion, readings: Readings) -> Decimal | None:
    """A stated rate that is over the wanted leak by its last digit alone is that leak.

    189.3 mL/min is the 189.27 that 3 gal/h are; 189.7 is more, and finding it proves nothing.
    """
    limit = exact(wanted.value)
    if leak is None or leak <= limit or readings.states("leak_ml"):
        return leak
    return max(limit, leak - LAST_DIGIT_ML_MIN * MINUTES_AN_HOUR / ML_A_GALLON)


def rounding(readings: Readings) -> Decimal:
    """How far under 3 gal/h a leak may read and still be the leak: a whole millilitre in the time it was caught.

    A stated rate was caught in a minute. Leaning this way is safe: missing such a leak fails.
    """
    seconds = readings.number("leak_collected_s") if readings.states("leak_ml") else Decimal(SECONDS_A_MINUTE)
    if not seconds:
        return Decimal(0)
    return 2 * HALF_A_MILLILITRE / ML_A_GALLON * SECONDS_AN_HOUR / seconds


def _leak_needs(readings: Readings) -> list[str]:
    caught = readings.states("leak_ml", "leak_collected_s") and not readings.states("leak_rate_gph")
    rate = ["leak_ml", "leak_collected_s"] if caught else ["leak_rate_gph"]
    return [name for name in (*rate, "psi") if not readings.number(name)]


def _answer_checks(readings: Readings, setting: Setting) -> list[Check]:
    """One that never answered has no time of answering."""
    numbers = setting.numbers
    answered = _answered(readings)
    answers = yes(numbers.number("detector-answers"), answered, needs=["response"])
    time = check(numbers.number("detector-minutes"), _minutes(readings), needs=["minutes_to_detect"])
    return [answers, *stated([time])] if answered is False else [answers, time]


def _answered(readings: Readings) -> bool | None:
    """By the stated response; without one, an electronic detector answers by its alarm or by its shutdown.

    A stated time to the answer says that there was one.
    """
    response = readings.word("response")
    if response is not None:
        return response != "none"
    answers = {readings.flag("alarm_ok"), readings.flag("shutdown_ok")}
    if True in answers:
        return True
    if answers == {False}:
        return False
    return True if readings.states("minutes_to_detect") else None


def _minutes(readings: Readings) -> Decimal | None:
    """Time to the answer; a mechanical detector's step-through time is that time."""
    minutes, seconds = readings.number("minutes_to_detect"), readings.number("step_through_s")
    if minutes is None and seconds is not None:
        return seconds / 60
    return minutes


def _metering_checks(readings: Readings, setting: Setting) -> list[Check]:
    """What a detector that restricts the flow must show; for another, only what was stated."""
    numbers = setting.numbers
    checks = [
        check(numbers.number("detector-held"), readings.number("held_s"), needs=["held_s"]),
        yes(numbers.number("detector-trips"), readings.flag("tripped_at_zero"), needs=["tripped_at_zero"]),
        yes(numbers.number("pump-cycles"), readings.flag("pump_cycles"), needs=["pump_cycles"]),
    ]
    return checks if readings.word("response") == RESTRICTED else stated(checks)


def _as_procedure(checks: list[Check]) -> list[Check]:
    return [
        check(
            each.criterion,
            None if each.measured is None else exact(each.measured),
            part="procedure",
            needs=each.missing,
        )
        for each in checks
    ]

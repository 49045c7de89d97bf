"""Statistical inventory reconciliation (40 CFR 280.43(h); 20 DCMR 6012; 23 CCR 2643).

The rate at or over the threshold fails; under it, a smallest detectable rate of 0.2 gal/h or less passes and a larger
one is inconclusive. A threshold over half of that rate is a report that the rule does not know: void. The rule's other
figure, 150 gal in 30 days, is not the same rate and is never converted into it.
"""

from compliance.protocols.leak_rates import rate_checks
from compliance.protocols.readings import Readings, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Verdict, check, conclude

USUAL_DAYS = 30


def judge(readings: Readings, setting: Setting) -> Verdict:
    numbers = setting.numbers
    threshold, least = readings.number("threshold_gph"), readings.number("minimum_detectable_gph")
    share = threshold / least if threshold is not None and least else None
    detectable = numbers.number("sir-detectable")
    rate = rate_checks(readings, detectable, readings.number("leak_rate_gph"), needs=["leak_rate_gph"])[0]
    return conclude(
        [
            rate,
            check(
                numbers.number("sir-threshold-share"),
                share,
                part="procedure",
                needs=["threshold_gph", "minimum_detectable_gph"]
                if threshold is None
                else ["minimum_detectable_gph"],
            ),
            check(detectable, least, part="procedure", needs=["minimum_detectable_gph"]),
        ],
        _notes(readings),
    )


def _notes(readings: Readings) -> list[str]:
    days = readings.number("data_days")
    if days is None or days >= USUAL_DAYS:
        return []
    return [
        f"{shown(days)} days of data stand behind it; {USUAL_DAYS} are usual (common practice, no source)."
    ]

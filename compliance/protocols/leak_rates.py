"""A measured leak rate against a method's threshold, and the threshold against the leak to be found.

A rate that meets the threshold is a leak (state evaluation listings; EPA/530/UST-90/007 practice). The threshold
must lie under the leak that is to be found (EPA UST Technical Compendium, Release Detection, question 1).
"""

from decimal import Decimal

import msgspec

from compliance.protocols.criteria import Criterion
from compliance.protocols.readings import Readings, exact
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, check, stated

SENSE = "without sign: a gain that large is no tight system either"


def rate_checks(
    readings: Readings, leak: Criterion, rate: Decimal | None, *, needs: list[str]
) -> list[Check]:
    """The rate under the threshold, the threshold under the leak to be found, and that leak itself.

    A rate that reaches the leak to be found fails without a threshold, or with one that lies too high.
    """
    threshold = readings.number("threshold_gph")
    size = None if rate is None else abs(rate)
    found = readings.number("detectable_leak_gph")
    reached = size is not None and size >= exact(leak.value)
    limits = [each for each in (threshold, exact(leak.value) if reached else None) if each is not None]
    limit = min(limits, default=None)
    return [
        _under(
            leak,
            "Measured rate under the method's threshold",
            size,
            limit,
            needs=_lacking(needs, size, limit),
        ),
        *stated(
            [
                _under(
                    leak,
                    "Threshold under the leak to be found",
                    threshold,
                    found or exact(leak.value),
                    part=True,
                )
            ]
        ),
        *stated([check(leak, found, part="procedure")]),
    ]


def probability_checks(readings: Readings, setting: Setting) -> list[Check]:
    """Probabilities of finding the leak and of a false alarm, as far as they were stated."""
    numbers = setting.numbers
    return stated(
        [
            check(
                numbers.number("detection-probability"),
                readings.number("detection_probability_pct"),
                part="procedure",
            ),
            check(numbers.number("false-alarm"), readings.number("false_alarm_pct"), part="procedure"),
        ]
    )


def _lacking(needs: list[str], size: Decimal | None, limit: Decimal | None) -> list[str]:
    return [*(needs if size is None else []), *(["threshold_gph"] if limit is None else [])]


def _under(
    leak: Criterion,
    title: str,
    measured: Decimal | None,
    limit: Decimal | None,
    *,
    part: bool = False,
    needs: list[str] | None = None,
) -> Check:
    """A criterion whose limit is a measurement of the record: equality is a leak."""
    known = measured is not None and limit is not None
    criterion = msgspec.structs.replace(
        leak,
        id="rate-under-threshold" if not part else "threshold-under-leak",
        title=title,
        value=float(limit) if limit is not None else leak.value,
        comparison="<",
        rounding=SENSE if not part else leak.rounding,
    )
    return check(
        criterion, measured if known else None, part="procedure" if part else "result", needs=needs or ()
    )

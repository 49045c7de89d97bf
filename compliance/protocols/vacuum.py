"""A test under vacuum: 30 in of water, valve shut, 26 in or more after a minute (PEI RP 1200 section 6.3)."""

from compliance.protocols.readings import Readings
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, check


def vacuum_checks(readings: Readings, setting: Setting) -> list[Check]:
    """A vacuum that never reached its start proves nothing, whatever was left of it."""
    numbers = setting.numbers
    start = check(
        numbers.number("vacuum-start"),
        readings.number("vacuum_start_in_wc"),
        part="procedure",
        needs=["vacuum_start_in_wc"],
    )
    minutes = check(
        numbers.number("vacuum-minutes"), readings.number("minutes"), part="procedure", needs=["minutes"]
    )
    end = check(
        numbers.number("vacuum-end"),
        readings.number("vacuum_end_in_wc"),
        part="procedure" if start.holds is False else "result",
        needs=["vacuum_end_in_wc"],
    )
    return [end, start, minutes]

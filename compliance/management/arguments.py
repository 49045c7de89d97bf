"""Arguments that several commands take."""

from argparse import ArgumentTypeError
from datetime import date, datetime

from compliance.rules.moments import EARLIEST_YEAR, LATEST_YEAR


def moment(text: str) -> date | datetime:
    """A day, or an instant; one without offset is local time of the facility."""
    try:
        read = datetime.fromisoformat(text) if "T" in text else date.fromisoformat(text)
    except ValueError:
        detail = f"{text!r}: a day (2026-02-28) or an instant (2026-02-28T14:00) is expected"
        raise ArgumentTypeError(detail) from None
    if not EARLIEST_YEAR <= read.year < LATEST_YEAR:
        raise ArgumentTypeError(f"{text!r}: a year from {EARLIEST_YEAR} to {LATEST_YEAR - 1} is expected")
    return read

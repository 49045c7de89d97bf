"""Arguments that several commands take."""

from argparse import ArgumentTypeError
from datetime import date, datetime


def moment(text: str) -> date | datetime:
    """A day, or an instant; one without offset is local time of the facility."""
    try:
        return datetime.fromisoformat(text) if "T" in text else date.fromisoformat(text)
    except ValueError:
        detail = f"{text!r}: a day (2026-02-28) or an instant (2026-02-28T14:00) is expected"
        raise ArgumentTypeError(detail) from None

"""How far back somebody looks: "12m" before a day, as days."""

import re
from datetime import date, datetime
from zoneinfo import ZoneInfo

from compliance.rules.document_rows import Document
from compliance.rules.judging import judged_instant
from compliance.rules.moments import LocalCalendar, plus_months

_LOOK_BACK = re.compile(r"(\d{1,4})([dmy])")
MOST_DAYS = 60 * 366
"""Further back than any federal rule about tanks."""


def days_back(text: str, day: date) -> int:
    """Days from the same day number so many months or years before, to `day`; "400d" as it stands.

    Raises ValueError with what was expected.
    """
    match = _LOOK_BACK.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r}: a number with d, m or y is expected, such as 12m")
    amount, unit = int(match[1]), match[2]
    months = amount * {"d": 0, "m": 1, "y": 12}[unit]
    if amount > MOST_DAYS or months * 30 > MOST_DAYS:
        raise ValueError(f"{text!r}: looks back too far; 60y is the most")
    return amount if unit == "d" else (day - plus_months(day, -months)).days


def local_day(document: Document, moment: date | datetime) -> date:
    """The day of a judged moment at the facility."""
    calendar = LocalCalendar(ZoneInfo(document.facility.time_zone or "UTC"))
    return calendar.day(judged_instant(moment, calendar))

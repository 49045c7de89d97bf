"""What a notice is filed under: an alarm, or a clock of the law that runs for it. Each clock is named by its end."""

import re
from datetime import datetime

_CLOCK = re.compile(r"alarm:\d+:clock:\S+")


def alarm_cause(alarm_id: int) -> str:
    """The calls about an alarm that nobody has acknowledged."""
    return f"alarm:{alarm_id}"


def clock_cause(alarm_id: int, until: datetime) -> str:
    """The calls about the clock that ends then (aware)."""
    return f"{alarm_cause(alarm_id)}:clock:{int(until.timestamp())}"


def is_about_clock(cause: str) -> bool:
    """Whether it is the second sort."""
    return _CLOCK.fullmatch(cause) is not None

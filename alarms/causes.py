"""What a notice is filed under: an alarm, or a clock of the law that runs for it. Each clock is named by its end."""

import re
from datetime import datetime

# Stands in the cause of every call about a clock, and in no other.
CLOCK = ":clock:"
_ABOUT_CLOCK = re.compile(rf"alarm:\d+{CLOCK}\S+")


def alarm_cause(alarm_id: int, call_round: int = 1) -> str:
    """The calls about an alarm that nobody has answered; an alarm that came back is called anew, in a further round."""
    return f"alarm:{alarm_id}" if call_round == 1 else f"alarm:{alarm_id}:round:{call_round}"


def clock_cause(alarm_id: int, until: datetime) -> str:
    """The calls about the clock that ends then (aware)."""
    return f"{alarm_cause(alarm_id)}{CLOCK}{int(until.timestamp())}"


def is_about_clock(cause: str) -> bool:
    """Whether it is the second sort."""
    return _ABOUT_CLOCK.fullmatch(cause) is not None

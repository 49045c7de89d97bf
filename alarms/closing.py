"""When an alarm is closed: over, answered for, and with a statement of what it turned out to be."""

from alarms.lifecycle import WAITING, State

MERGED = "part of another alarm"
STANDS = "still standing"
UNANSWERED = "not acknowledged"
LATCHED = "not reset"
SHELVED = "shelved"
OUT_OF_SERVICE = "out of service"
NO_DISPOSITION = "no disposition since it was last raised"


def lacks_to_close(state: State, *, stands: bool, disposed: bool, merged: bool) -> tuple[str, ...]:
    """What is missing before the alarm is closed, none of it once it is.

    `stands`: the condition holds by what devices said; `disposed`: a disposition is in force that is not
    older than its last raise.
    """
    if merged:
        return (MERGED,)
    found = {
        STANDS: stands and state != State.NORMAL,
        UNANSWERED: state in WAITING,
        LATCHED: state in (State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED),
        SHELVED: state == State.SHELVED,
        OUT_OF_SERVICE: state == State.OUT_OF_SERVICE,
        NO_DISPOSITION: not disposed,
    }
    return tuple(word for word, lacks in found.items() if lacks)

"""The states of an alarm and every step between them, as one table.

State names are those of ANSI/ISA-18.2 and IEC 62682 (alarm state transition diagram; names from memory, the standards
are not free to read). One row of `Alarm` is one episode: it is born out of `normal` by a raise and ends in `normal`.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType


class State(StrEnum):
    """What an alarm can be."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out of service"


class Step(StrEnum):
    """What can happen to an alarm."""

    RAISE = "raise"
    CLEAR = "clear"
    ACKNOWLEDGE = "acknowledge"
    LAPSE = "lapse"  # raised anew long after, with no clear in between: the clear was lost on the way


MEANING: Mapping[State, str] = MappingProxyType(
    {
        State.NORMAL: "The condition is over and somebody has answered for it.",
        State.UNACKNOWLEDGED: "The condition holds and nobody has answered yet.",
        State.ACKNOWLEDGED: "The condition holds; somebody has answered.",
        State.RETURNED_UNACKNOWLEDGED: "The condition is over, but nobody has answered for it.",
        State.SHELVED: "Kept quiet for a limited time, for a stated reason.",
        State.OUT_OF_SERVICE: "Kept quiet while the equipment is being worked on.",
    }
)

# Who may ask for a step: `signal` = an event of a sensor or console, `person` = whoever may answer alarms.
ASKED_BY: Mapping[Step, str] = MappingProxyType(
    {Step.RAISE: "signal", Step.CLEAR: "signal", Step.LAPSE: "signal", Step.ACKNOWLEDGE: "person"}
)

# No row leads into `shelved` or `out of service` yet. A pair that is not in the table is refused.
STEPS: Mapping[tuple[State, Step], State] = MappingProxyType(
    {
        (State.NORMAL, Step.RAISE): State.UNACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.CLEAR): State.RETURNED_UNACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.ACKNOWLEDGE): State.ACKNOWLEDGED,
        (State.ACKNOWLEDGED, Step.RAISE): State.ACKNOWLEDGED,
        (State.ACKNOWLEDGED, Step.CLEAR): State.NORMAL,
        (State.ACKNOWLEDGED, Step.LAPSE): State.NORMAL,
        (State.RETURNED_UNACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.RETURNED_UNACKNOWLEDGED, Step.CLEAR): State.RETURNED_UNACKNOWLEDGED,
        (State.RETURNED_UNACKNOWLEDGED, Step.ACKNOWLEDGE): State.NORMAL,
    }
)

OPEN = frozenset(State) - {State.NORMAL}
WAITING = frozenset({State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED})


class StepRefused(ValueError):
    """The table has no such step."""


def after(state: State, step: Step) -> State:
    """The state that follows; StepRefused when the table has no such step."""
    try:
        return STEPS[state, step]
    except KeyError:
        allowed = ", ".join(sorted(one for at, one in STEPS if at == state)) or "none"
        raise StepRefused(f"an alarm that is {state} cannot {step}; allowed: {allowed}") from None

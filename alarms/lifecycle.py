"""The states of an alarm and every step between them, as one table.

State names are those of ANSI/ISA-18.2 and IEC 62682 (alarm state transition diagram; names from memory, the standards
are not free to read). One row of `Alarm` is one episode: it is born out of `normal` by a raise and ends in `normal`.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

import msgspec


class State(StrEnum):
    """What an alarm can be."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned-unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched-unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched-acknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out of service"


class Step(StrEnum):
    """What can happen to an alarm."""

    RAISE = "raise"
    CLEAR = "clear"
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    END_SHELVING = "end shelving"  # somebody ends it, or its time is over
    TAKE_OUT = "take out of service"
    RETURN = "return to service"
    REJOIN = "rejoin"  # a condition that comes and goes came back soon after it had been answered
    LAPSE = "lapse"  # raised anew long after, with no clear in between: the clear was lost on the way
    OUTLAST = "outlast"  # it came back after its answer, and stands longer than that answer counts for it


class Nature(msgspec.Struct, frozen=True):
    """How alarms of a condition behave.

    `latches`: that the device says it is over ends no alarm, only a person's reset does. `comes_and_goes`: raised again
    soon after it ended, it is the same alarm with one more occurrence.
    """

    latches: bool = False
    comes_and_goes: bool = False


class Hold(StrEnum):
    """What keeps an alarm from being over, whatever people did."""

    STANDS = "the condition still holds"
    LATCHED = "the condition is over, but the alarm stays until somebody resets it"
    NOTHING = "the condition is over"


MEANING: Mapping[State, str] = MappingProxyType(
    {
        State.NORMAL: "The condition is over and somebody has answered for it.",
        State.UNACKNOWLEDGED: "The condition holds and nobody has answered yet.",
        State.ACKNOWLEDGED: "The condition holds; somebody has answered.",
        State.RETURNED_UNACKNOWLEDGED: "The condition is over, but nobody has answered for it.",
        State.LATCHED_UNACKNOWLEDGED: "The device says it is over. It stays until somebody has answered and reset it.",
        State.LATCHED_ACKNOWLEDGED: "The device says it is over and somebody has answered. It stays until it is reset.",
        State.SHELVED: "Kept quiet for a limited time, for a stated reason.",
        State.OUT_OF_SERVICE: "Kept quiet while the equipment is being worked on.",
    }
)

_NOBODYS = (Step.RAISE, Step.CLEAR, Step.REJOIN, Step.LAPSE, Step.OUTLAST)
# Who may ask for a step: `signal` = an event of a sensor or console, or its absence; `person` = whoever may answer.
ASKED_BY: Mapping[Step, str] = MappingProxyType(
    {one: "signal" if one in _NOBODYS else "person" for one in Step}
)

_RINGING = {
    Hold.STANDS: State.UNACKNOWLEDGED,
    Hold.LATCHED: State.LATCHED_UNACKNOWLEDGED,
    Hold.NOTHING: State.RETURNED_UNACKNOWLEDGED,
}
_ANSWERED = {
    Hold.STANDS: State.ACKNOWLEDGED,
    Hold.LATCHED: State.LATCHED_ACKNOWLEDGED,
    Hold.NOTHING: State.NORMAL,
}
# Whoever kept it quiet has answered for it, so only what still is wrong comes back. A repair resets a latch.
_BACK_FROM_SHELF = _RINGING | {Hold.NOTHING: State.NORMAL}
_BACK_IN_SERVICE = {
    Hold.STANDS: State.UNACKNOWLEDGED,
    Hold.LATCHED: State.NORMAL,
    Hold.NOTHING: State.NORMAL,
}

# Where a step leads, or where it leads by what holds the alarm. A pair that is not in the table is refused.
STEPS: Mapping[tuple[State, Step], State | Mapping[Hold, State]] = MappingProxyType(
    {
        (State.NORMAL, Step.RAISE): State.UNACKNOWLEDGED,
        (State.NORMAL, Step.REJOIN): State.ACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.CLEAR): _RINGING,
        (State.UNACKNOWLEDGED, Step.ACKNOWLEDGE): State.ACKNOWLEDGED,
        (State.UNACKNOWLEDGED, Step.SHELVE): State.SHELVED,
        (State.UNACKNOWLEDGED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        (State.ACKNOWLEDGED, Step.RAISE): State.ACKNOWLEDGED,
        (State.ACKNOWLEDGED, Step.CLEAR): _ANSWERED,
        (State.ACKNOWLEDGED, Step.LAPSE): _ANSWERED,  # as if the clear had come
        (State.ACKNOWLEDGED, Step.OUTLAST): State.UNACKNOWLEDGED,
        (State.ACKNOWLEDGED, Step.SHELVE): State.SHELVED,
        (State.ACKNOWLEDGED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        (State.RETURNED_UNACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.RETURNED_UNACKNOWLEDGED, Step.CLEAR): State.RETURNED_UNACKNOWLEDGED,
        (State.RETURNED_UNACKNOWLEDGED, Step.ACKNOWLEDGE): State.NORMAL,
        (State.RETURNED_UNACKNOWLEDGED, Step.SHELVE): State.SHELVED,
        (State.RETURNED_UNACKNOWLEDGED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        (State.LATCHED_UNACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.LATCHED_UNACKNOWLEDGED, Step.CLEAR): State.LATCHED_UNACKNOWLEDGED,
        (State.LATCHED_UNACKNOWLEDGED, Step.ACKNOWLEDGE): State.LATCHED_ACKNOWLEDGED,
        (State.LATCHED_UNACKNOWLEDGED, Step.SHELVE): State.SHELVED,
        (State.LATCHED_UNACKNOWLEDGED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        # It failed again after somebody had answered for the first time: that is news.
        (State.LATCHED_ACKNOWLEDGED, Step.RAISE): State.UNACKNOWLEDGED,
        (State.LATCHED_ACKNOWLEDGED, Step.CLEAR): State.LATCHED_ACKNOWLEDGED,
        (State.LATCHED_ACKNOWLEDGED, Step.RESET): State.NORMAL,
        (State.LATCHED_ACKNOWLEDGED, Step.SHELVE): State.SHELVED,
        (State.LATCHED_ACKNOWLEDGED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        (State.SHELVED, Step.RAISE): State.SHELVED,
        (State.SHELVED, Step.CLEAR): State.SHELVED,
        (State.SHELVED, Step.END_SHELVING): _BACK_FROM_SHELF,
        (State.SHELVED, Step.TAKE_OUT): State.OUT_OF_SERVICE,
        (State.OUT_OF_SERVICE, Step.RAISE): State.OUT_OF_SERVICE,
        (State.OUT_OF_SERVICE, Step.CLEAR): State.OUT_OF_SERVICE,
        (State.OUT_OF_SERVICE, Step.RETURN): _BACK_IN_SERVICE,
    }
)

OPEN = frozenset(State) - {State.NORMAL}
WAITING = frozenset({State.UNACKNOWLEDGED, State.RETURNED_UNACKNOWLEDGED, State.LATCHED_UNACKNOWLEDGED})
ANSWERED = frozenset(State) - WAITING
# Answered, and yet somebody has to come back to it, or it comes back by itself.
KEPT = frozenset({State.SHELVED, State.OUT_OF_SERVICE, State.LATCHED_ACKNOWLEDGED})
# Steps by which somebody answers for an alarm: whoever keeps it quiet has seen it.
ANSWERS = frozenset({Step.ACKNOWLEDGE, Step.SHELVE, Step.TAKE_OUT})
# Steps that people take and that are kept.
ACTS = tuple(one for one in Step if ASKED_BY[one] == "person")


class StepRefused(ValueError):
    """The table has no such step."""


def after(state: State, step: Step, hold: Hold = Hold.NOTHING) -> State:
    """The state that follows; StepRefused when the table has no such step.

    `hold` counts where a condition ends, or where what kept an alarm quiet does.
    """
    try:
        to = STEPS[state, step]
    except KeyError:
        allowed = ", ".join(allowed_from(state)) or "none"
        raise StepRefused(f"an alarm that is {state} cannot {step}; allowed: {allowed}") from None
    return to if isinstance(to, State) else to[hold]


def allowed_from(state: State) -> tuple[Step, ...]:
    """Every step that the table has from this state."""
    return tuple(sorted(step for at, step in STEPS if at == state))

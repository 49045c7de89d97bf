"""The state table. State names and what leads where: ANSI/ISA-18.2 and IEC 62682, alarm state transition diagram (from
memory). That a shelved alarm comes back as it then is, and that a repair resets a latch: common practice, no source."""

from itertools import product

import pytest

from alarms.lifecycle import (
    ACTS,
    ANSWERED,
    ANSWERS,
    ASKED_BY,
    MEANING,
    OPEN,
    STEPS,
    WAITING,
    Hold,
    State,
    Step,
    StepRefused,
    after,
)

# The diagram's transitions; a repeat of what holds already stays where it is. `stands`, `latched`, `over`: what the
# condition does meanwhile, where that decides.
DIAGRAM = {
    ("normal", "raise", "any"): "unacknowledged",
    ("unacknowledged", "acknowledge", "any"): "acknowledged",
    ("unacknowledged", "clear", "over"): "returned-unacknowledged",
    ("unacknowledged", "clear", "latched"): "latched-unacknowledged",
    ("acknowledged", "clear", "over"): "normal",
    ("acknowledged", "clear", "latched"): "latched-acknowledged",
    ("returned-unacknowledged", "acknowledge", "any"): "normal",
    ("returned-unacknowledged", "raise", "any"): "unacknowledged",
    ("latched-unacknowledged", "acknowledge", "any"): "latched-acknowledged",
    ("latched-unacknowledged", "raise", "any"): "unacknowledged",
    ("latched-acknowledged", "reset", "any"): "normal",
    ("latched-acknowledged", "raise", "any"): "unacknowledged",
    ("shelved", "end shelving", "stands"): "unacknowledged",
    ("shelved", "end shelving", "latched"): "latched-unacknowledged",
    ("shelved", "end shelving", "over"): "normal",
    ("out of service", "return to service", "stands"): "unacknowledged",
    ("out of service", "return to service", "latched"): "normal",
    ("out of service", "return to service", "over"): "normal",
} | {
    (state, step, "any"): to
    for step, to in (("shelve", "shelved"), ("take out of service", "out of service"))
    for state in (
        "unacknowledged",
        "acknowledged",
        "returned-unacknowledged",
        "latched-unacknowledged",
        "latched-acknowledged",
    )
}
DIAGRAM["shelved", "take out of service", "any"] = "out of service"
HOLDS = {
    "stands": [Hold.STANDS],
    "latched": [Hold.LATCHED],
    "over": [Hold.NOTHING],
    "any": [*Hold],
}


def test_states_are_those_of_the_standard():
    assert {*State} == {
        "normal",
        "unacknowledged",
        "acknowledged",
        "returned-unacknowledged",
        "latched-unacknowledged",
        "latched-acknowledged",
        "shelved",
        "out of service",
    }


@pytest.mark.parametrize(("row", "to"), DIAGRAM.items(), ids=lambda one: " ".join(one) if one else "")
def test_every_transition_of_the_diagram_is_allowed(row, to):
    state, step, hold = row

    assert {after(State(state), Step(step), one) for one in HOLDS[hold]} == {to}


def test_whatever_else_is_allowed_repeats_what_holds_or_is_said_to_be_ours():
    drawn = {(state, step) for state, step, _ in DIAGRAM}
    others = {pair: to for pair, to in STEPS.items() if pair not in drawn}

    lost_clear = {Hold.STANDS: "acknowledged", Hold.LATCHED: "latched-acknowledged", Hold.NOTHING: "normal"}
    ours = {("acknowledged", "lapse"): lost_clear, ("normal", "rejoin"): "acknowledged"}
    ours["acknowledged", "outlast"] = "unacknowledged"

    assert all(to == ours.get((at, step), at) for (at, step), to in others.items())


@pytest.mark.parametrize(
    ("state", "step"), [pair for pair in product(State, Step) if pair not in STEPS], ids=" ".join
)
def test_a_step_that_is_not_in_the_table_is_refused(state, step):
    with pytest.raises(StepRefused, match=f"is {state} cannot {step}"):
        after(state, step)


def test_every_state_has_a_meaning_and_every_step_somebody_who_asks():
    assert set(MEANING) == set(State)
    assert set(ASKED_BY) == set(Step)
    assert set(ACTS) == set(Step) - {Step.RAISE, Step.CLEAR, Step.REJOIN, Step.LAPSE, Step.OUTLAST}


def test_every_state_either_waits_for_an_answer_or_has_one():
    assert set(State) == WAITING | ANSWERED
    assert not WAITING & ANSWERED


@pytest.mark.parametrize("state", sorted(OPEN))
def test_whatever_is_open_can_be_ended_by_people_alone_once_the_condition_is_over(state):
    """Nothing stays open for want of a step."""
    reached = {state}
    for _ in Step:
        reached |= {
            after(one, step)
            for one, step in STEPS
            if one in reached and (ASKED_BY[step] == "person" or step == Step.CLEAR)
        }

    assert State.NORMAL in reached


def test_nobody_is_called_for_an_answered_alarm_until_it_is_news_again():
    """Over every course that an alarm can take: whatever is reached is walked on from."""
    left, seen = [(State.NORMAL, True)], set()
    while left:
        state, answered = left.pop()
        assert (state in WAITING) == (not answered), state
        if (state, answered) in seen:
            continue
        seen.add((state, answered))
        for step, hold in product(Step, Hold):
            if (state, step) in STEPS:
                to = after(state, step, hold)
                rings = (state, step) in {
                    (State.NORMAL, Step.RAISE),
                    (State.LATCHED_ACKNOWLEDGED, Step.RAISE),
                    (State.ACKNOWLEDGED, Step.OUTLAST),
                }
                comes_back = step in (Step.END_SHELVING, Step.RETURN) and to != State.NORMAL
                left.append((to, (answered or step in ANSWERS) and not rings and not comes_back))
    assert {state for state, _ in seen} == set(State)

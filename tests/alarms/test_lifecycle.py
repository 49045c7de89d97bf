"""The state table. State names: ANSI/ISA-18.2 and IEC 62682, alarm state transition diagram (from memory)."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.lifecycle import ASKED_BY, MEANING, OPEN, STEPS, WAITING, State, Step, StepRefused, after

# The diagram's transitions between the states in use; a repeat of what holds already stays where it is.
DIAGRAM = {
    ("normal", "raise"): "unacknowledged",
    ("unacknowledged", "acknowledge"): "acknowledged",
    ("unacknowledged", "clear"): "returned-unacknowledged",
    ("acknowledged", "clear"): "normal",
    ("returned-unacknowledged", "acknowledge"): "normal",
    ("returned-unacknowledged", "raise"): "unacknowledged",
}


def test_states_are_those_of_the_standard():
    assert {*State} == {
        "normal",
        "unacknowledged",
        "acknowledged",
        "returned-unacknowledged",
        "shelved",
        "out of service",
    }


def test_every_transition_of_the_diagram_is_allowed():
    assert {pair: STEPS[State(pair[0]), Step(pair[1])] for pair in DIAGRAM} == DIAGRAM


def test_whatever_else_is_allowed_repeats_what_holds_or_ends_an_answered_alarm():
    others = {pair: to for pair, to in STEPS.items() if pair not in DIAGRAM}

    assert all(to == at or (at, step) == ("acknowledged", "lapse") for (at, step), to in others.items())


@pytest.mark.parametrize(
    ("state", "step"), [pair for pair in product(State, Step) if pair not in STEPS], ids=" ".join
)
def test_a_step_that_is_not_in_the_table_is_refused(state, step):
    with pytest.raises(StepRefused, match=f"is {state} cannot {step}"):
        after(state, step)


def test_every_state_has_a_meaning_and_every_step_somebody_who_asks():
    assert set(MEANING) == set(State)
    assert set(ASKED_BY) == set(Step)


@given(st.lists(st.sampled_from(Step)))
def test_nobody_is_called_for_an_answered_alarm_until_a_new_one_begins(steps):
    state, answered = State.NORMAL, True
    for step in steps:
        if (state, step) not in STEPS:
            continue
        answered = (answered or step == Step.ACKNOWLEDGE) and (state, step) != (State.NORMAL, Step.RAISE)
        state = after(state, step)

        assert (state in WAITING) == (not answered)
        assert (state in OPEN) == (state != State.NORMAL)

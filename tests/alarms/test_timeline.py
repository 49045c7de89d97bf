"""What an alarm is: a fold of its turns. That the order of delivery changes nothing is our own promise; what is said of
late and lost messages: common practice, no source; the states in between: ANSI/ISA-18.2 (from memory)."""

from datetime import datetime, timedelta
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alarms.lifecycle import ANSWERED, OPEN, WAITING, Nature, State, Step
from alarms.matching import Effect, Signal
from alarms.timeline import Act, Answer, Episode, Fold, Heard
from alarms.timeline_rows import Spans
from tests.alarms.histories import History, in_order, live, random_history, shuffled, told
from tests.alarms.sites import minutes
from tests.world import NOW

RAISED, CLEARED = Signal.RAISED, Signal.CLEARED
SEQUENCES = 10_000
DAY = 24 * 60


def raised(at: float, *, doubt: bool = False) -> Heard:
    return Heard(NOW + minutes(at), RAISED, doubt)


def cleared(at: float, *, doubt: bool = False) -> Heard:
    return Heard(NOW + minutes(at), CLEARED, doubt)


def act(step: str, at: float, *, until: float | None = None, number: int = 1) -> Act:
    moment = NOW + minutes(at)
    end = None if until is None else NOW + minutes(until)
    return Act(moment, Step(step), number, Answer(moment, "Ann", "why"), end)


def fold(*turns, now: float = 10_000, **nature: bool) -> Fold:
    walked = Fold(Nature(**nature))
    walked.take(turns)
    walked.run_out(NOW + minutes(now))
    return walked


def states(*turns, **setting) -> list[str]:
    return [one.state for one in fold(*turns, **setting).begun]


def promises_are_kept(history: History, alarms: list[Episode], acts: list[Act]) -> None:
    """What holds of every alarm, told from messages and steps without counting them on."""
    signals = [one for _, one in history.signals]
    resets = {one.at for one in acts if one.step in (Step.RESET, Step.RETURN)}

    assert sum(one.state in OPEN for one in alarms) <= 1
    assert sum(one.occurrences for one in alarms) == sum(one.signal == RAISED for one in signals)
    for one in alarms:
        assert (one.answer is None) == (one.state in WAITING)
        assert (one.answer is not None) == (one.state in ANSWERED)
        assert (one.ended_at is None) == (one.state in OPEN)
        assert (one.shelved_until is None) == (one.state != State.SHELVED)
        assert one.acknowledged_until is None, "days later it has come back"
        assert one.raised_at <= one.last_raised_at <= one.last_turn_at
        if history.nature.latches and one.state == State.NORMAL:
            assert one.ended_at in resets, "only a reset, or a repair, ends what latches"
        if one.answer is not None and stands(one) and one.state != State.OUT_OF_SERVICE:
            assert one.answer.at >= came_back_at(signals), "an answer from before it came back, days ago"


def stands(alarm: Episode) -> bool:
    """Whether its condition holds at the end, days after the last message."""
    return alarm.state != State.NORMAL and alarm.cleared_at is None


def came_back_at(signals: list[Heard]) -> datetime:
    """Since when the condition holds that holds at the end: the first raise after the last clear, told or lost."""
    clears = [one.at for one in signals if one.signal == CLEARED]
    ups = sorted(one.at for one in signals if one.signal == RAISED and all(one.at >= end for end in clears))
    lost = [late for early, late in pairwise(ups) if late - early > timedelta(days=1)]
    return lost[-1] if lost else ups[0]


def test_ten_thousand_histories_leave_the_same_alarms_in_any_order_of_delivery():
    """Messages up to two days late, several at one moment, doubtful clocks, people in between; first as they come in,
    with the steps that people could take by then, then the same turns thoroughly shuffled. Each state is reached, turns
    come late, alarms are merged: else they would show nothing."""
    reached, again, merged = set(), 0, 0
    for seed in range(SEQUENCES):
        dice = Random(seed)
        history = random_history(dice)
        desk, acts = live(history, dice)
        turns = [one for _, one in history.signals] + acts
        expected = told(in_order(turns, history.nature))

        assert told(desk.alarms) == expected, f"as they came in, seed {seed}"
        assert told(shuffled(turns, history.nature, dice=dice).alarms) == expected, f"shuffled, seed {seed}"
        promises_are_kept(history, desk.alarms, acts)
        reached |= desk.seen
        again += desk.again
        merged += desk.merged
    assert reached == set(State)
    assert again > 6000
    assert merged > 20, merged


@settings(max_examples=200, deadline=None)
@given(st.randoms(use_true_random=False))
def test_a_history_leaves_the_same_alarms_in_any_order_of_delivery(dice):
    history = random_history(dice)
    desk, acts = live(history, dice)
    turns = [one for _, one in history.signals] + acts
    expected = told(in_order(turns, history.nature))

    assert told(desk.alarms) == expected
    assert told(shuffled(turns, history.nature, dice=dice).alarms) == expected


@settings(max_examples=200, deadline=None)
@given(st.randoms(use_true_random=False))
def test_every_alarm_keeps_its_promises(dice):
    history = random_history(dice)
    desk, acts = live(history, dice)

    promises_are_kept(history, desk.alarms, acts)


def test_a_condition_that_comes_and_goes_unanswered_is_one_alarm():
    (only,) = fold(raised(0), cleared(1), raised(2), cleared(3), raised(4)).begun

    assert (only.state, only.occurrences, only.last_raised_at, only.cleared_at) == (
        "unacknowledged",
        3,
        NOW + minutes(4),
        None,
    )


def test_the_clear_of_an_answered_alarm_ends_it_and_the_next_raise_is_a_new_one():
    assert states(raised(0), act("acknowledge", 1), cleared(2), raised(3)) == ["normal", "unacknowledged"]


def test_a_clear_without_a_raise_belongs_to_none():
    assert Fold(Nature()).take([cleared(0)])[0].effect == Effect.NONE


def test_a_flip_of_one_moment_ends_as_it_began():
    assert states(raised(0), cleared(0)) == ["returned-unacknowledged"]
    assert states(raised(0), raised(5), cleared(5)) == ["unacknowledged"]


def test_a_flip_of_one_moment_at_an_answered_alarm_is_news():
    """It had gone and came again: whoever answered for the first did not know."""
    assert states(raised(0), act("acknowledge", 1), cleared(5), raised(5)) == ["normal", "unacknowledged"]


def test_where_a_clock_is_in_doubt_the_raise_counts_last():
    assert states(raised(0, doubt=True), cleared(0)) == ["unacknowledged"]


@pytest.mark.parametrize(("hours", "left"), [(24, ["acknowledged"]), (24.1, ["normal", "unacknowledged"])])
def test_a_raise_long_after_an_answered_one_is_not_swallowed_by_it(hours, left):
    assert states(raised(0), act("acknowledge", 1), raised(60 * hours)) == left


def test_an_unanswered_alarm_never_lapses():
    assert states(raised(0), raised(60 * 24 * 6)) == ["unacknowledged"]


def test_a_latched_alarm_stays_until_it_is_answered_and_reset():
    turns = [raised(0), cleared(1), act("acknowledge", 2), act("reset", 3, number=2)]

    assert [states(*turns[:number], latches=True) for number in range(1, 5)] == [
        ["unacknowledged"],
        ["latched-unacknowledged"],
        ["latched-acknowledged"],
        ["normal"],
    ]


def test_a_test_that_fails_again_under_its_latch_is_news():
    (only,) = fold(raised(0), cleared(1), act("acknowledge", 2), raised(3), latches=True).begun

    assert (only.state, only.answer, only.occurrences) == ("unacknowledged", None, 2)


def test_a_test_that_fails_again_days_later_under_its_latch_is_news_too():
    """That the clear was lost on the way ends no alarm that only a reset ends."""
    (only,) = fold(raised(0), act("acknowledge", 1), raised(3 * DAY), latches=True).begun

    assert (only.state, only.answer, only.occurrences, only.ended_at) == ("unacknowledged", None, 2, None)


@pytest.mark.parametrize(
    ("meanwhile", "latches", "back"),
    [
        ([], False, "unacknowledged"),
        ([cleared(5)], False, "normal"),
        ([cleared(5)], True, "latched-unacknowledged"),
        ([cleared(5), raised(6)], False, "unacknowledged"),
        ([cleared(5), raised(6), cleared(7)], False, "normal"),
    ],
)
def test_a_shelved_alarm_is_quiet_and_comes_back_by_itself_as_it_then_is(meanwhile, latches, back):
    turns = [raised(0), act("shelve", 1, until=60), *meanwhile]

    assert states(*turns, latches=latches, now=59.9) == ["shelved"]
    assert states(*turns, latches=latches, now=60) == [back]


def test_what_comes_back_waits_for_an_answer_even_if_it_was_acknowledged_before():
    (only,) = fold(raised(0), act("acknowledge", 1), act("shelve", 2, until=60, number=2)).begun

    assert (only.state, only.answer) == ("unacknowledged", None)


def test_shelving_is_an_answer():
    (only,) = fold(raised(0), act("shelve", 1, until=60), now=2).begun

    assert only.answer == Answer(NOW + minutes(1), "Ann", "why")


def test_a_raise_after_the_end_of_shelving_finds_it_ended():
    (first, second) = fold(raised(0), act("shelve", 1, until=60), cleared(5), raised(61), now=61).begun

    assert (first.state, first.ended_at) == ("normal", NOW + minutes(60))
    assert second.raised_at == NOW + minutes(61)


@pytest.mark.parametrize(
    ("meanwhile", "back"),
    [([], "unacknowledged"), ([cleared(5)], "normal"), ([cleared(5), raised(6)], "unacknowledged")],
)
@pytest.mark.parametrize("latches", [False, True])
def test_what_was_out_of_service_comes_back_as_it_then_is(meanwhile, latches, back):
    turns = [raised(0), act("take out of service", 1), *meanwhile, act("return to service", 90, number=2)]

    assert states(*turns[:-1], latches=latches) == ["out of service"]
    assert states(*turns, latches=latches) == [back]


def test_a_step_that_a_late_message_shows_to_be_too_late_changes_nothing():
    late_clear = cleared(10)
    turns = [raised(0), act("acknowledge", 5), act("shelve", 20, until=60, number=2)]

    assert states(*turns, now=30) == ["shelved"]
    assert states(*turns, late_clear, now=30) == ["normal"]


def test_counting_begins_anew_where_nothing_was_open():
    day = timedelta(days=1)
    spans = Spans([(NOW, NOW + day), (NOW + day, NOW + 2 * day), (NOW + 3 * day, None)])

    assert spans.start_of(NOW + 2.5 * day, Nature()) == NOW + 2.5 * day
    assert spans.start_of(NOW + 4 * day, Nature()) == NOW + 3 * day
    assert spans.start_of(NOW + 1.5 * day, Nature()) == NOW, "alarms that touch are taken together"
    assert spans.start_of(NOW - day, Nature()) == NOW - day
    assert spans.start_of(NOW + 2.5 * day, Nature(comes_and_goes=True)) == NOW, (
        "the later may be the earlier one"
    )


def test_a_fault_that_comes_and_goes_is_one_alarm_with_a_count():
    """Our own promise; a day is common practice, no source."""
    flicker = [
        raised(0),
        cleared(1),
        act("acknowledge", 2),
        raised(60),
        cleared(61),
        act("acknowledge", 62, number=2),
        raised(DAY),
        cleared(DAY + 1),
    ]

    (only,) = fold(*flicker, comes_and_goes=True).begun
    assert (only.state, only.occurrences, only.raised_at) == ("returned-unacknowledged", 3, NOW)
    assert len(fold(*flicker).begun) == 3


@pytest.mark.parametrize(
    ("ended", "again", "alarms", "state"),
    [
        (2, 2 + 239, 1, "acknowledged"),
        (2, 2 + 240, 1, "unacknowledged"),
        (2, 2 + DAY, 1, "unacknowledged"),
        (2, 2 + DAY + 1, 2, "unacknowledged"),
        (DAY - 60, DAY + 3, 1, "unacknowledged"),
    ],
    ids=[
        "soon after its end",
        "it had seemed to be over for four hours",
        "within a day of its end",
        "more than a day after it",
        "the answer is more than a day old",
    ],
)
def test_people_are_called_for_it_again_where_it_is_news(ended, again, alarms, state):
    turns = [raised(0), act("acknowledge", 2), cleared(ended), raised(again)]
    begun = fold(*turns, now=again, comes_and_goes=True).begun

    assert (len(begun), begun[-1].state) == (alarms, state)


def test_an_answer_counts_for_a_day_for_what_came_back_and_stands():
    """A dead sensor says no more: nothing but time tells that nobody knows of it."""
    turns = [raised(0), act("acknowledge", 2), cleared(60), raised(90), raised(200)]

    assert states(*turns, now=2 + DAY - 1, comes_and_goes=True) == ["acknowledged"]
    (only,) = fold(*turns, now=2 + DAY, comes_and_goes=True).begun
    assert (only.state, only.answer, only.last_turn_at) == ("unacknowledged", None, NOW + minutes(2 + DAY))


def test_what_nobody_saw_clear_again_keeps_its_answer():
    """Somebody answered while it stood, and it still does: that it is told again is no news."""
    turns = [raised(0), act("acknowledge", 2), raised(600), raised(1200)]

    assert states(*turns, comes_and_goes=True) == ["acknowledged"]


@pytest.mark.parametrize("step", ["shelve", "take out of service"])
def test_whoever_keeps_it_quiet_after_it_came_back_has_answered_for_it(step):
    turns = [
        raised(0),
        act("acknowledge", 2),
        cleared(60),
        raised(90),
        act(step, 100, until=2 * DAY, number=2),
    ]

    assert states(*turns, now=2 + DAY, comes_and_goes=True) != ["unacknowledged"]


def test_a_fault_whose_clear_was_lost_is_still_one_alarm():
    turns = [raised(0), act("acknowledge", 1), raised(3 * DAY)]
    (only,) = fold(*turns, comes_and_goes=True).begun

    assert (only.state, only.occurrences, only.answer) == ("unacknowledged", 2, None)

"""Which component and which episode an event belongs to. What is said of late and lost messages: common practice, no
source; the states in between: ANSI/ISA-18.2 (from memory)."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.lifecycle import OPEN, State
from alarms.matching import Book, Directory, Effect, Episode, Key, Named, Signal, plain

T0 = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
SUMP = Key(7, "", "sump-liquid")
RAISED, CLEARED = Signal.RAISED, Signal.CLEARED


def at(minutes: float) -> datetime:
    return T0 + timedelta(minutes=minutes)


def episode(state: State, *, raised: float = 0, cleared: float | None = None) -> Episode:
    return Episode(
        key=SUMP,
        state=state,
        raised_at=at(raised),
        last_raised_at=at(raised),
        last_turn_at=at(raised),
        cleared_at=None if cleared is None else at(cleared),
        alarm=1,
    )


def test_a_device_is_found_by_its_tag_however_it_is_written():
    directory = Directory([Named(1, "SU1", "Fuel dock sump"), Named(2, "SU2")])

    assert [directory.find(name) for name in ("SU1", "su1", "  SU2 ", "fuel  dock sump", "SU9", "")] == [
        1,
        1,
        2,
        1,
        None,
        None,
    ]


def test_a_name_that_two_components_share_finds_neither():
    directory = Directory(
        [Named(1, "SU1", "Dock sump"), Named(2, "SU2", "dock sump"), Named(3, "t1"), Named(4, "T1")]
    )

    assert directory.find("Dock sump") is None
    assert directory.find("T1") == 4


def test_a_first_raise_opens_an_episode():
    placement = Book().place(SUMP, RAISED, at(0))

    assert placement.effect == Effect.OPENED
    assert placement.episode.state == State.UNACKNOWLEDGED


def test_a_condition_that_comes_and_goes_unanswered_is_one_episode():
    book = Book()
    placements = [
        book.place(SUMP, signal, at(n)) for n, signal in enumerate([RAISED, CLEARED, RAISED, CLEARED, RAISED])
    ]

    (only,) = {id(one.episode): one.episode for one in placements}.values()
    assert (only.state, only.occurrences, only.raised_at, only.last_raised_at, only.cleared_at) == (
        State.UNACKNOWLEDGED,
        3,
        at(0),
        at(4),
        None,
    )


def test_another_component_or_condition_is_another_episode():
    book = Book()
    keys = [SUMP, Key(8, "", "sump-liquid"), Key(7, "", "sump-fuel"), Key(None, "SU7", "sump-liquid")]

    assert [book.place(key, RAISED, at(0)).effect for key in keys] == [Effect.OPENED] * 4


def test_the_clear_of_an_answered_alarm_ends_it_and_the_next_raise_is_a_new_one():
    known = episode(State.ACKNOWLEDGED)
    book = Book([known])

    assert book.place(SUMP, CLEARED, at(5)).effect == Effect.CLEARED
    assert known.state == State.NORMAL
    assert book.place(SUMP, RAISED, at(6)).effect == Effect.OPENED


def test_a_clear_without_a_raise_is_kept_with_a_remark():
    placement = Book().place(SUMP, CLEARED, at(0))

    assert placement.effect == Effect.NONE
    assert "no raise of it is known" in placement.remark


def test_a_raise_whose_clear_came_first_still_tells_people():
    book = Book(clears={SUMP: [at(-10), at(5)]})
    placement = book.place(SUMP, RAISED, at(0))

    assert placement.effect == Effect.OPENED
    assert (placement.episode.state, placement.episode.cleared_at) == (State.RETURNED_UNACKNOWLEDGED, at(5))


def test_a_late_clear_does_not_hide_a_newer_raise():
    book = Book()
    book.place(SUMP, RAISED, at(0))
    book.place(SUMP, RAISED, at(10))
    placement = book.place(SUMP, CLEARED, at(5))

    assert placement.effect == Effect.JOINED
    assert placement.episode.state == State.UNACKNOWLEDGED


def test_a_late_raise_does_not_revive_what_cleared_since():
    known = episode(State.RETURNED_UNACKNOWLEDGED, raised=0, cleared=10)
    placement = Book([known]).place(SUMP, RAISED, at(5))

    assert placement.effect == Effect.JOINED
    assert (known.state, known.occurrences, known.cleared_at) == (State.RETURNED_UNACKNOWLEDGED, 2, at(10))


def test_an_earlier_beginning_moves_the_start_of_the_episode():
    """Legal clocks run from the beginning (40 CFR 280.50: from discovery): the earlier moment is the safe one."""
    known = episode(State.UNACKNOWLEDGED, raised=0)
    book = Book([known])
    book.place(SUMP, RAISED, at(-30))

    assert known.raised_at == at(-30)
    assert book.moved


def test_a_message_from_within_an_ended_episode_joins_it_and_tells_nobody_again():
    ended = episode(State.NORMAL, raised=0, cleared=10)
    book = Book([ended])

    assert book.place(SUMP, RAISED, at(5)).episode is ended
    assert not book.opened
    assert not book.moved


@pytest.mark.parametrize(("hours", "effect"), [(24, Effect.JOINED), (24.1, Effect.OPENED)])
def test_a_raise_long_after_an_answered_one_is_not_swallowed_by_it(hours, effect):
    known = episode(State.ACKNOWLEDGED)
    placement = Book([known]).place(SUMP, RAISED, at(hours * 60))

    assert placement.effect == effect
    assert known.state == (State.ACKNOWLEDGED if effect == Effect.JOINED else State.NORMAL)


def test_an_unanswered_alarm_never_lapses():
    known = episode(State.UNACKNOWLEDGED)

    assert Book([known]).place(SUMP, RAISED, at(60 * 24 * 30)).episode is known


messages = st.lists(
    st.tuples(
        st.sampled_from([SUMP, Key(None, "X", "power-lost")]), st.sampled_from(Signal), st.integers(0, 60)
    )
)


@given(messages)
def test_at_most_one_episode_of_a_key_is_open_and_every_raise_is_counted(sent):
    book = Book()
    for key, signal, minute in sent:
        book.place(key, signal, at(minute))

    open_keys = [one.key for one in book.opened if one.state in OPEN]
    assert len(open_keys) == len(set(open_keys))
    assert sum(one.occurrences for one in book.opened) == sum(signal == RAISED for _, signal, _ in sent)


@given(messages)
def test_the_last_message_in_time_decides_whether_a_condition_holds(sent):
    book = Book()
    # Of two at the same moment the raise counts last: the safe side.
    for key, signal, minute in sorted(sent, key=lambda one: (one[2], one[1] == RAISED)):
        book.place(key, signal, at(minute))

    for one in book.opened:
        last = max((minute, signal == RAISED) for key, signal, minute in sent if key == one.key)
        assert (one.cleared_at is None) == last[1]


def test_a_name_is_compared_without_its_odd_spaces():
    assert plain("  dock \t sump ") == "dock sump"

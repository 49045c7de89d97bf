"""Walking down a call list. The minutes are those of the list itself; how they add up is plain arithmetic."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.escalation import Call, Plan, advance, first_call_at, foreseen
from alarms.reach import ListedStep, Recipient

T0 = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return T0 + timedelta(minutes=minutes)


def person(name: str) -> Recipient:
    return Recipient(name=name, email=f"{name}@example.com", organisation=1)


def plan(*minutes: int, repeat: int | None = 30) -> Plan:
    steps = [ListedStep(after_minutes=m, recipients=(person(f"p{n}"),)) for n, m in enumerate(minutes, 1)]
    return Plan(steps=tuple(steps), repeat_minutes=repeat)


LIST = plan(0, 10, 25)


def due_by(now_minutes: float, *, of: Plan = LIST) -> tuple[Call, ...]:
    first = first_call_at(of, raised_at=T0)
    return advance(of, number=1, at=first or T0, now=at(now_minutes)).due


def numbers(now_minutes: float, *, of: Plan = LIST) -> list[int]:
    return [one.number for one in due_by(now_minutes, of=of)]


@pytest.mark.parametrize(
    ("minutes", "due"),
    [(-1, []), (0, [1]), (9.9, [1]), (10, [1, 2]), (25, [1, 2, 3]), (54.9, [1, 2, 3]), (55, [1, 2, 3, 4])],
)
def test_a_step_is_due_from_its_minute_on(minutes, due):
    assert numbers(minutes) == due


def test_the_last_step_is_called_again_until_somebody_answers():
    calls = foreseen(LIST, raised_at=T0, repeats=3)

    assert [(one.number, one.due_at, one.recipients[0].name) for one in calls] == [
        (1, at(0), "p1"),
        (2, at(10), "p2"),
        (3, at(25), "p3"),
        (4, at(55), "p3"),
        (5, at(85), "p3"),
        (6, at(115), "p3"),
    ]


def test_of_repeats_that_were_missed_only_the_newest_is_made():
    """After a long stop of the worker nobody gets ten mails at once."""
    progress = advance(LIST, number=1, at=T0, now=at(25 + 30 * 10 + 1))

    assert [one.number for one in progress.due] == [1, 2, 3, 13]
    assert (progress.next_number, progress.next_at) == (14, at(25 + 30 * 11))


def test_a_call_brought_forward_brings_the_rest_forward():
    progress = advance(LIST, number=2, at=at(1), now=at(1))

    assert [one.number for one in progress.due] == [2]
    assert (progress.next_number, progress.next_at) == (3, at(16))


def test_what_is_not_urgent_goes_to_the_first_people_once():
    progress = advance(LIST.told_once(), number=1, at=T0, now=at(500))

    assert [one.number for one in progress.due] == [1]
    assert progress.next_at is None


def test_an_empty_list_calls_nobody_and_says_so():
    assert first_call_at(plan(), raised_at=T0) is None
    assert numbers(100, of=plan()) == []


def test_steps_out_of_order_are_refused():
    with pytest.raises(ValueError, match="order of their minutes"):
        plan(10, 5)


increasing = st.lists(st.integers(0, 500), min_size=1, max_size=6, unique=True).map(sorted)


@given(increasing, st.integers(1, 120), st.lists(st.integers(0, 2000), max_size=8).map(sorted))
def test_looking_often_or_seldom_makes_the_same_steps(minutes, repeat, looks):
    walked = plan(*minutes, repeat=repeat)
    number, when, seen = 1, at(minutes[0]), []
    for look in [*looks, 2000]:
        progress = advance(walked, number=number, at=when, now=at(look))
        seen += [one.number for one in progress.due]
        number, when = progress.next_number, progress.next_at

    whole = [one.number for one in due_by(2000, of=walked)]
    assert set(whole) <= set(seen)
    assert seen == sorted(set(seen))
    assert [one for one in seen if one <= len(minutes)] == [one for one in whole if one <= len(minutes)]
    assert when > at(2000)


@given(increasing, st.integers(1, 120), st.integers(0, 3000))
def test_every_call_that_is_due_is_foreseen_at_that_moment(minutes, repeat, look):
    walked = plan(*minutes, repeat=repeat)
    foretold = {one.number: one.due_at for one in foreseen(walked, raised_at=T0, repeats=3001)}

    for one in due_by(look, of=walked):
        assert foretold[one.number] == one.due_at <= at(look)

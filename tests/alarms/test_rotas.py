"""Who is on duty. Changes of clocks: tz database; clock times that are skipped or doubled: RFC 5545 section 3.3.5; the
order of turns is our own promise."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.rotas import Turns

NEW_YORK = ZoneInfo("America/New_York")


def turns(starts_on: str, *, days: int = 7, hand_over: str = "08:00", people: int = 3) -> Turns:
    return Turns(
        people=people,
        starts_on=date.fromisoformat(starts_on),
        turn_days=days,
        hand_over=time.fromisoformat(hand_over),
        time_zone="America/New_York",
    )


def local(text: str, *, second: bool = False) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK, fold=int(second)).astimezone(UTC)


@pytest.mark.parametrize(
    ("moment", "place"),
    [
        ("2026-03-02T07:59:59", 2),  # before the first turn the order holds backwards
        ("2026-03-02T08:00", 0),
        ("2026-03-09T07:59:59", 0),  # a week of 167 hours: clocks went forward on the 8th
        ("2026-03-09T08:00", 1),
        ("2026-03-16T08:00", 2),
        ("2026-03-23T08:00", 0),
        ("2026-11-02T07:59:59", 1),  # 34 weeks and a bit later, by winter clocks again
        ("2026-11-02T08:00", 2),
    ],
)
def test_a_week_ends_by_the_clock_on_the_wall(moment, place):
    assert turns("2026-03-02").on_duty(local(moment)) == place


@pytest.mark.parametrize(
    ("moment", "place"),
    [
        ("2028-02-28T08:00", 0),
        ("2028-02-29T08:00", 1),  # a leap day is a turn of its own
        ("2028-03-01T07:59", 1),
        ("2028-03-01T08:00", 2),
    ],
)
def test_turns_of_a_day_count_the_leap_day(moment, place):
    assert turns("2028-02-28", days=1).on_duty(local(moment)) == place


def test_a_turn_runs_over_the_end_of_the_year():
    year_end = turns("2026-12-28")

    assert [year_end.on_duty(local(one)) for one in ("2026-12-31T23:59", "2027-01-01T00:00")] == [0, 0]
    assert year_end.on_duty(local("2027-01-04T08:00")) == 1


@pytest.mark.parametrize(
    ("hand_over", "moment", "second", "turn"),
    [
        ("02:30", "2026-03-08T01:59", False, 6),
        ("02:30", "2026-03-08T03:29", False, 6),  # 02:30 does not come: it is read as 03:30
        ("02:30", "2026-03-08T03:30", False, 7),
        ("01:30", "2026-11-01T01:29", False, 244),
        ("01:30", "2026-11-01T01:30", False, 245),  # the first half past one
        ("01:30", "2026-11-01T01:10", True, 245),  # and nobody goes back on duty when the hour is repeated
    ],
)
def test_a_hand_over_in_the_hour_of_the_change_happens_once(hand_over, moment, second, turn):
    daily = turns("2026-03-01", days=1, hand_over=hand_over)

    assert daily.turn(local(moment, second=second)) == turn


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)),
    st.integers(1, 40),
    st.integers(1, 6),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
    st.sampled_from(["America/New_York", "Europe/Dublin", "Australia/Lord_Howe", "America/St_Johns", "UTC"]),
)
def test_every_instant_is_in_exactly_the_turn_whose_ends_hold_it(naive, days, people, hand_over, zone):
    at = naive.replace(tzinfo=UTC)
    rota = Turns(
        people=people, starts_on=date(2026, 3, 2), turn_days=days, hand_over=hand_over, time_zone=zone
    )
    number = rota.turn(at)

    assert rota.begins(number) <= at < rota.begins(number + 1)
    assert 0 <= rota.on_duty(at) < people
    assert rota.on_duty(rota.begins(number + 1)) == (rota.on_duty(at) + 1) % people


def test_a_rota_of_nobody_or_without_length_is_refused():
    for wrong in ({"people": 0}, {"days": 0}):
        with pytest.raises(ValueError, match="at least"):
            turns("2026-03-02", **wrong)


def test_turns_reach_far_back_and_ahead():
    rota = turns("2026-03-02")

    assert rota.begins(rota.turn(local("1990-06-01T12:00"))) <= local("1990-06-01T12:00")
    assert rota.begins(1) - rota.begins(0) == timedelta(days=7) - timedelta(hours=1)

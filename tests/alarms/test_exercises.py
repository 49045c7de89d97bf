"""What a window shows about a sensor. Half-open windows and the two monthly drives are common practice, no source."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from alarms.conditions import ConditionClass
from alarms.exercises import (
    LATE_WITHIN,
    CheckOutcome,
    Course,
    Turn,
    Window,
    drives,
    is_covered,
    is_late_evidence,
    lacks_of,
    shown_by,
    too_much,
)
from tests.alarms.sites import minutes
from tests.world import NOW

END = NOW + timedelta(hours=2)
WINDOW = Window(NOW, END)
SECOND = timedelta(seconds=1)


def course(signals: str, *, condition: str = "monitoring-liquid-low", stood_before: bool = False) -> Course:
    """`r5 c9`: raised 5 minutes after the start, cleared after 9."""
    turns = [Turn(NOW + minutes(float(one[1:])), one[0] == "r") for one in signals.split()]
    return Course(condition, stood_before, turns)


@pytest.mark.parametrize(
    ("signals", "outcome", "stands"),
    [
        ("", CheckOutcome.NO_RESPONSE, False),
        ("r5 c9", CheckOutcome.RESPONDED, False),
        ("c9 r5", CheckOutcome.RESPONDED, False),
        ("r0 c119.99", CheckOutcome.RESPONDED, False),
        ("r5", CheckOutcome.STOOD_ON, True),
        ("r5 c9 r20", CheckOutcome.RESPONDED, True),
        ("r5 r6 r7 c9 c10", CheckOutcome.RESPONDED, False),
        ("r5 c120", CheckOutcome.STOOD_ON, True),
        ("r120 c130", CheckOutcome.NO_RESPONSE, False),
        ("r-1 c9", CheckOutcome.NO_RESPONSE, False),
        ("c9", CheckOutcome.NO_RESPONSE, False),
    ],
)
def test_a_sensor_has_responded_once_it_went_into_alarm_and_back(signals, outcome, stands):
    shown = shown_by(WINDOW, [course(signals)])

    assert (shown.outcome, bool(shown.stands)) == (outcome, stands)


@pytest.mark.parametrize(
    ("signals", "stands"), [("r5 c5", False), ("c5 r5", False), ("r5 c9 r9", True), ("r5 r9 c9", True)]
)
def test_two_signals_of_one_instant_end_as_they_began_in_whatever_order_they_came(signals, stands):
    shown = shown_by(WINDOW, [course(signals)])

    assert (shown.outcome, bool(shown.stands)) == (CheckOutcome.RESPONDED, stands)


def test_an_alarm_that_stood_before_is_no_response_when_it_goes():
    assert shown_by(WINDOW, [course("c9", stood_before=True)]).outcome == CheckOutcome.STOOD_BEFORE
    assert shown_by(WINDOW, [course("r5 c9", stood_before=True)]).outcome == CheckOutcome.STOOD_BEFORE
    assert shown_by(WINDOW, [course("r5", stood_before=True)]).stands == {"monitoring-liquid-low"}


def test_once_it_is_normal_again_it_can_be_driven():
    shown = shown_by(WINDOW, [course("c9 r20 c30", stood_before=True)])

    assert shown.outcome == CheckOutcome.RESPONDED
    assert shown.response.raised_at == NOW + minutes(20)


def test_low_and_high_are_two_conditions_and_either_is_a_response():
    low, high = course("r5 c9"), course("r40", condition="monitoring-liquid-high")
    shown = shown_by(WINDOW, [high, low])

    assert (shown.outcome, shown.stands) == (CheckOutcome.RESPONDED, {"monitoring-liquid-high"})
    assert (shown.response.condition, shown.response.cleared_at) == (
        "monitoring-liquid-low",
        NOW + minutes(9),
    )


@pytest.mark.parametrize(
    ("raised_at", "received_at", "covered"),
    [
        (NOW, NOW, True),
        (NOW - SECOND, NOW, False),
        (NOW, NOW - SECOND, False),
        (END - SECOND, END - SECOND, True),
        (END, END, False),
        (END - SECOND, END, False),
        (NOW + minutes(5), NOW + minutes(65), True),
    ],
)
def test_an_alarm_belongs_to_a_check_if_it_was_raised_and_received_inside(raised_at, received_at, covered):
    assert is_covered(WINDOW, raised_at=raised_at, received_at=received_at) is covered


@pytest.mark.parametrize(
    ("cleared_at", "received_at", "counts"),
    [
        (NOW + minutes(9), END, True),
        (NOW + minutes(9), END + LATE_WITHIN, True),
        (NOW + minutes(9), END + LATE_WITHIN + SECOND, False),
        (NOW + minutes(9), END - SECOND, False),
        (END, END + SECOND, False),
        (None, END + SECOND, False),
    ],
)
def test_what_comes_late_is_evidence_only_if_it_was_over_inside(cleared_at, received_at, counts):
    found = is_late_evidence(
        WINDOW, raised_at=NOW + minutes(5), cleared_at=cleared_at, received_at=received_at
    )

    assert found is counts


@pytest.mark.parametrize(
    ("starts", "ends", "fields"),
    [
        (timedelta(0), timedelta(hours=8), []),
        (timedelta(days=60), timedelta(days=60, hours=1), []),
        (-SECOND, timedelta(hours=1), ["starts_at"]),
        (timedelta(days=60, seconds=1), timedelta(days=60, hours=1), ["starts_at"]),
        (timedelta(0), timedelta(hours=8, seconds=1), ["ends_at"]),
        (timedelta(hours=1), timedelta(hours=1), ["ends_at"]),
        (timedelta(hours=1), timedelta(0), ["ends_at"]),
        (-SECOND, timedelta(hours=9), ["starts_at", "ends_at"]),
    ],
)
def test_a_window_is_short_and_never_in_the_past(starts, ends, fields):
    lacks = lacks_of(Window(NOW + starts, NOW + ends), now=NOW)

    assert [lack.field for lack in lacks] == fields


@pytest.mark.parametrize(
    ("starts", "too_long"),
    [
        ([-8, 8], False),
        ([-8, 8, 16], True),
        ([-16, -8, 8], True),
        ([-8, 8, 24], False),
        ([-24, -8, 8], False),
    ],
)
def test_a_sensor_is_under_check_for_half_of_a_day_at_most(starts, too_long):
    """Others of four hours each, which begin so many hours after this one of four."""
    window = Window(NOW, NOW + timedelta(hours=4))
    others = [Window(NOW + timedelta(hours=at), NOW + timedelta(hours=at + 4)) for at in starts]

    assert too_much(window, others) is too_long


def test_windows_that_touch_do_not_overlap():
    assert not WINDOW.overlaps(Window(END, END + SECOND))
    assert WINDOW.overlaps(Window(END - SECOND, END + SECOND))


@pytest.mark.parametrize(("until", "codes"), [(9, []), (10, ["too-long"])])
def test_eight_hours_are_elapsed_hours_on_the_night_the_clocks_change(until, codes):
    """In New York clocks go forward on 8 March 2026 at 02:00 local time (15 U.S.C. 260a): from 0 to 9 are 8 hours."""
    zone = ZoneInfo("America/New_York")
    night = Window(datetime(2026, 3, 8, tzinfo=zone), datetime(2026, 3, 8, until, tzinfo=zone))

    assert [lack.code for lack in lacks_of(night, now=NOW)] == codes


def test_product_outside_faults_and_unknown_words_are_never_an_exercise():
    assert {one for one in ConditionClass if drives(one)} == {
        "monitoring result",
        "unusual operating condition",
    }
    assert not drives(None)

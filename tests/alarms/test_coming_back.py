"""A device's fault that comes and goes is one alarm on file, with a count. Common practice, no source."""

from datetime import datetime, timedelta

import pytest
from django.db import transaction

from alarms.closing import NO_DISPOSITION, lacks_to_close
from alarms.dispositions import DispositionType
from alarms.lifecycle import State, Step
from alarms.models import Alarm
from alarms.queries import alarms_at
from alarms.services import running_out, telling
from alarms.services.escalation import LOOK_AGAIN, escalate_due
from alarms.services.stepping import Stated, lock_alarm, take_step
from equipment.models import Facility
from tests.alarms.answers import LATER, answer, proof_of
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.world import NOW

DAY = timedelta(days=1)


@pytest.fixture
def fault(site) -> Alarm:
    """Raised, answered at once, over after a minute."""
    call_list(site, (0, [contact("Ann")]))
    alarm = raised(site, "SU1", "sensor-fault")
    with transaction.atomic():
        take_step(lock_alarm(alarm.pk), Stated(step=Step.ACKNOWLEDGE, by="Ann", note="loose plug"), now=NOW)
    say(site, "cleared", NOW + minutes(1))
    return alarm


def say(site: Facility, signal: str, at: datetime):
    return deliver(site, report("SU1", "sensor-fault", signal, occurred_at=at), now=at)


def lacks(alarm: Alarm) -> tuple[str, ...]:
    row = alarms_at(Facility.objects.all()).get(pk=alarm.pk)
    return lacks_to_close(
        State(row.state), stands=row.cleared_at is None, disposed=row.is_disposed, merged=False
    )


def test_what_comes_back_within_a_day_joins_and_calls_nobody(site, fault):
    intake = say(site, "raised", NOW + 3 * minutes(60))
    escalate_due(now=NOW + DAY, limit=10)
    fault.refresh_from_db()

    assert (intake.opened, intake.joined) == ([], [fault.pk])
    assert "the same alarm" in intake.remarks[0].detail
    assert (fault.state, fault.occurrences, fault.acknowledged_by) == ("acknowledged", 2, "Ann")
    assert fault.notices.count() == 0


def flicker(site: Facility, *, until: datetime) -> None:
    """It is there for a minute every three hours."""
    at = NOW + minutes(180)
    while at < until:
        say(site, "raised", at)
        say(site, "cleared", at + minutes(1))
        at += minutes(180)


def test_once_the_answer_is_a_day_old_people_are_called_for_the_same_alarm(site, fault):
    later = NOW + DAY + minutes(60)
    flicker(site, until=NOW + DAY)
    intake = say(site, "raised", later)
    escalate_due(now=later, limit=10)
    fault.refresh_from_db()

    assert intake.joined == [fault.pk]
    assert (fault.state, fault.occurrences, fault.acknowledged_at) == ("unacknowledged", 9, None)
    assert [one.name for one in fault.notices.all()] == ["Ann"]


def test_what_came_back_for_good_is_called_for_once_the_answer_is_a_day_old(site, fault):
    """A dead sensor says no more."""
    say(site, "raised", NOW + minutes(180))
    fault.refresh_from_db()
    assert (fault.state, fault.acknowledged_until) == ("acknowledged", NOW + DAY)

    wait(NOW + DAY - minutes(1))
    assert fault.notices.count() == 0
    wait(NOW + DAY)
    fault.refresh_from_db()
    assert (fault.state, fault.acknowledged_at, fault.acknowledged_until) == ("unacknowledged", None, None)
    assert [(one.name, one.due_at) for one in fault.notices.all()] == [("Ann", NOW + DAY)]


def test_what_was_mended_and_fails_again_hours_later_is_news(site, fault):
    """Replaced, quiet for most of a day, then raised for good: whoever answered thinks that it is mended."""
    now = NOW + minutes(20 * 60)
    intake = say(site, "raised", now)
    wait(now)
    fault.refresh_from_db()

    assert intake.joined == [fault.pk]
    assert (fault.state, fault.next_step_at is not None) == ("unacknowledged", True)
    assert [one.name for one in fault.notices.all()] == ["Ann"]


def test_one_that_cannot_be_called_for_holds_up_no_other(site, fault, monkeypatch):
    say(site, "raised", NOW + minutes(180))
    monkeypatch.setattr(running_out, "end_shelving", fails)

    assert running_out.call_outlasted(now=NOW + DAY, limit=10) == 1
    assert running_out.call_outlasted(now=NOW + DAY, limit=10) == 0
    monkeypatch.undo()
    assert running_out.call_outlasted(now=NOW + DAY + LOOK_AGAIN, limit=10) == 1
    fault.refresh_from_db()
    assert fault.state == "unacknowledged"


def fails(*_, **__):
    raise RuntimeError("a broken row")


def wait(now: datetime) -> None:
    """The timetable has done its work by then."""
    telling.drain(clock=lambda: now, at_most=minutes(1))


def test_more_than_a_day_after_its_end_it_is_an_alarm_of_its_own(site, fault):
    intake = say(site, "raised", NOW + DAY + minutes(2))

    assert (len(intake.opened), intake.joined) == (1, [])


def test_a_late_message_between_two_shows_that_they_were_one(site, fault):
    (second,) = say(site, "raised", NOW + DAY + minutes(2)).opened
    between = NOW + 12 * minutes(60)
    batch = [
        report("SU1", "sensor-fault", signal, occurred_at=between + after)
        for signal, after in (("raised", minutes(0)), ("cleared", minutes(1)))
    ]
    deliver(site, *batch, now=NOW + DAY + minutes(3))
    fault.refresh_from_db()

    assert Alarm.objects.get(pk=second).merged_into == fault
    assert (fault.state, fault.occurrences) == ("unacknowledged", 3)


def test_an_answer_from_before_it_came_back_does_not_close_it(site, fault):
    answer(fault, DispositionType.FAULT_PUT_RIGHT, **proof_of(DispositionType.FAULT_PUT_RIGHT, fault))
    assert lacks(fault) == ()

    say(site, "raised", LATER + minutes(1))
    say(site, "cleared", LATER + minutes(2))

    assert NO_DISPOSITION in lacks(fault)

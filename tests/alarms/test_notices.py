"""Writing down who is to be told. The times are those of the call list; the promises are our own."""

from datetime import timedelta
from unittest.mock import patch

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.models import Notice
from alarms.queries import oldest_waiting_notice
from alarms.services import escalation
from alarms.services.answering import acknowledge
from alarms.services.call_lists import replace_call_list
from alarms.services.escalation import escalate_due
from alarms.services.kept_calls import StatedStep
from tests import world
from tests.alarms.sites import call_list, contact, deliver, fallback, minutes, raised, report
from tests.world import NOW


def told(alarm) -> list[tuple[int, str]]:
    return list(alarm.notices.order_by("step", "pk").values_list("step", "name"))


def escalate(*, at=NOW) -> int:
    return escalate_due(now=at, limit=100)


def test_the_first_step_is_written_down_at_once(site):
    alarm = raised(site)
    escalate()

    alarm.refresh_from_db()
    assert told(alarm) == [(1, "Ann")]
    assert (alarm.next_step, alarm.next_step_at) == (2, NOW + minutes(10))


def test_an_alarm_nobody_answers_climbs_one_step_and_only_one(site):
    alarm = raised(site)
    escalate()
    escalate(at=NOW + minutes(10))
    escalate(at=NOW + minutes(10))

    assert told(alarm) == [(1, "Ann"), (2, "Bob")]


def test_the_last_step_is_called_again_and_again(site):
    alarm = raised(site)
    for after in (0, 10, 40, 70):
        escalate(at=NOW + minutes(after))

    assert told(alarm) == [(1, "Ann"), (2, "Bob"), (3, "Bob"), (4, "Bob")]


def test_an_answered_alarm_climbs_no_further(site):
    alarm = raised(site)
    escalate()
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW + minutes(5))

    assert escalate(at=NOW + minutes(500)) == 0
    assert told(alarm) == [(1, "Ann")]


def test_what_cleared_by_itself_is_still_called_until_somebody_answers(site):
    alarm = raised(site)
    escalate()
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    escalate(at=NOW + minutes(10))

    assert told(alarm) == [(1, "Ann"), (2, "Bob")]


def test_a_delivery_needed_wakes_the_first_people_once(site):
    alarm = raised(site, "T1", "delivery-needed")
    for after in (0, 10, 500):
        escalate(at=NOW + minutes(after))

    assert told(alarm) == [(1, "Ann")]


def test_minutes_count_from_when_the_alarm_reached_us(site):
    """A gateway that was cut off for hours does not call the whole list at once."""
    deliver(site, report(occurred_at=NOW - timedelta(hours=5)))
    escalate()

    assert [one.step for one in Notice.objects.all()] == [1]


def test_without_a_call_list_the_operators_fallback_people_are_told(own, owner, stranger):
    fallback(owner, "mia", "sam")
    fallback(stranger, "eve")
    alarm = raised(own, "x")
    escalate()

    assert told(alarm) == [(1, "mia"), (1, "sam")]


def test_with_nobody_to_tell_the_alarm_keeps_waiting_and_shows(own):
    alarm = raised(own, "x")
    escalate()

    alarm.refresh_from_db()
    assert told(alarm) == []
    assert alarm.next_step_at == NOW + escalation.LOOK_AGAIN
    assert (alarm.untold_since, alarm.untold_reason) == (NOW, "there is nobody to tell")


def test_whoever_is_listed_at_last_is_told_of_what_nobody_heard(own):
    alarm = raised(own, "x")
    for after in (0, 5, 10):
        escalate(at=NOW + minutes(after))
    alarm.refresh_from_db()
    untold = alarm.untold_since
    call_list(own, (0, [contact("Ann")]), now=NOW + minutes(12))
    escalate(at=NOW + minutes(12))

    assert untold == NOW
    assert told(alarm) == [(1, "Ann")]


def test_people_whose_organisation_was_shut_out_are_not_told(site, contractor):
    call_list(site, (0, [contact("Tess", contractor.pk)]), (10, [contact("Bob")]))
    site.grants.filter(organisation=contractor).update(ends_at=NOW - minutes(1))
    alarm = raised(site)
    escalate()

    assert told(alarm) == [(2, "Bob")]


def test_a_new_call_list_tells_who_is_new_and_nobody_twice(site):
    alarm = raised(site)
    escalate()
    call_list(site, (0, [contact("Ann"), contact("Cem")]), (10, [contact("Bob")]), now=NOW + minutes(2))
    escalate(at=NOW + minutes(2))
    escalate(at=NOW + minutes(10))

    assert told(alarm) == [(1, "Ann"), (1, "Cem"), (2, "Bob")]


def test_one_alarm_that_breaks_does_not_stop_the_others(site):
    bad, good = raised(site), raised(site, "SN1")
    subject_of = escalation.subject_of

    def break_once(alarm):
        if alarm.pk == bad.pk:
            raise RuntimeError("broken row")
        return subject_of(alarm)

    with patch.object(escalation, "subject_of", break_once):
        escalate()
    bad.refresh_from_db()

    assert told(good) == [(1, "Ann")]
    assert (told(bad), bad.next_step, bad.next_step_at) == ([], 1, NOW + escalation.LOOK_AGAIN)
    assert bad.untold_reason.startswith("a fault of ours")
    assert oldest_waiting_notice(NOW) == NOW


def test_a_worker_that_chose_alarms_before_another_moved_them_does_nothing(site):
    alarms = [raised(site), raised(site, "SN1")]
    escalate()
    before = [told(alarm) for alarm in alarms]
    escalation._escalate(site.pk, [alarm.pk for alarm in alarms], now=NOW)

    assert [told(alarm) for alarm in alarms] == before


def test_many_alarms_of_a_site_cost_no_more_queries_than_two(site, django_assert_num_queries):
    """In a storm each alarm would else read its site's call list anew."""
    raised(site, "a")
    raised(site, "b")
    with CaptureQueriesContext(connection) as few:
        escalate()
    for number in range(50):
        raised(site, f"d{number}", now=NOW + minutes(1))

    with django_assert_num_queries(len(few)):
        escalate(at=NOW + minutes(1))
    assert Notice.objects.count() == 52


def test_an_alarm_of_each_priority_is_called_by_its_own_list(site):
    people = [contact("Cem")]
    replace_call_list(
        facility=site,
        version=0,
        repeat_minutes=30,
        steps=[StatedStep(after_minutes=0, recipients=people)],
        by="test",
        stated_by=site.operator,
        now=NOW,
        priority="low",
    )
    urgent, calm = raised(site), raised(site, "T1", "delivery-needed")
    escalate()

    assert (told(urgent), told(calm)) == ([(1, "Ann")], [(1, "Cem")])


def test_no_more_alarms_are_looked_at_than_asked_for(site):
    for device in ("SU1", "SN1", "P1"):
        raised(site, device)

    assert [
        escalate_due(now=NOW, limit=2),
        escalate_due(now=NOW, limit=2),
        escalate_due(now=NOW, limit=2),
    ] == [
        2,
        1,
        0,
    ]


def test_the_oldest_that_waits_is_an_overdue_call_or_an_unsent_mail(site):
    assert oldest_waiting_notice(NOW) is None
    raised(site)

    assert oldest_waiting_notice(NOW + minutes(7)) == NOW
    escalate(at=NOW + minutes(7))
    assert oldest_waiting_notice(NOW + minutes(8)) == NOW


@pytest.mark.parametrize("facility_name", ["Pier\r\nBcc: x@example.com", "P" * 100])
def test_a_subject_is_one_line_of_bounded_length(own, facility_name):
    type(own).objects.filter(pk=own.pk).update(name=facility_name)
    own.refresh_from_db()
    world.line(own)
    subject = escalation.subject_of(raised(own))

    assert "\n" not in subject
    assert "\r" not in subject
    assert len(subject) <= 200

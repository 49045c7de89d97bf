"""A running clock of the law calls people again. 24 hours: 40 CFR 280.50; at which parts whom, is our own choice."""

import smtplib
from datetime import timedelta
from html import unescape

import pytest
from django.core import mail

from alarms.models import Notice
from alarms.queries import oldest_waiting_notice
from alarms.services.answering import acknowledge
from alarms.services.clocks import note_clock
from alarms.services.escalation import escalate_due
from tests.alarms.sites import call_list, contact, fallback, minutes, raised
from tests.alarms.test_sending import UNKNOWN_USER, refusing, send, tell
from tests.world import NOW

HOUR = timedelta(hours=1)
UNTIL = NOW + 24 * HOUR


@pytest.fixture
def alarm(site, owner):
    """Told and acknowledged at once; its clock runs for a day."""
    fallback(owner, "mia")
    opened = raised(site)
    escalate_due(now=NOW, limit=10)
    send()
    acknowledge(alarm=opened, by="Ann", note=None, now=NOW)
    run(opened)
    mail.outbox.clear()
    return opened


def run(alarm, *, since=NOW, until=UNTIL, now=NOW, text="Report within 24 hours") -> None:
    note_clock(alarm_id=alarm.pk, text=text, since=since, until=until, now=now)


def stop(alarm, *, now) -> None:
    note_clock(alarm_id=alarm.pk, text=None, since=None, until=None, now=now)


def look(hours: float) -> None:
    escalate_due(now=NOW + hours * HOUR, limit=10)


def told(alarm) -> list[tuple[int, str]]:
    rows = alarm.notices.filter(cause__contains=":clock:").order_by("due_at", "pk")
    return list(rows.values_list("step", "name"))


def test_an_acknowledged_alarm_is_told_again_at_half_three_quarters_and_the_end(alarm):
    seen = []
    for hours in (11.9, 12, 12.1, 18, 24, 48):
        look(hours)
        seen.append(len(told(alarm)))

    assert told(alarm) == [(1, "Ann"), (2, "Ann"), (2, "Bob"), (3, "Ann"), (3, "Bob"), (3, "mia")]
    assert seen == [0, 1, 1, 3, 6, 6]


def test_a_clock_that_was_answered_calls_nobody_more(alarm):
    look(12)
    stop(alarm, now=NOW + 13 * HOUR)
    for hours in (18, 24):
        look(hours)

    assert told(alarm) == [(1, "Ann")]
    assert Notice.objects.filter(cause__contains=":clock:", withdrawn_at=None).count() == 0


def test_a_mail_that_is_out_already_is_not_withdrawn(alarm):
    look(12)
    send(at=NOW + 12 * HOUR)
    stop(alarm, now=NOW + 13 * HOUR)

    assert alarm.notices.filter(cause__contains=":clock:", withdrawn_at=None).count() == 1


def test_a_clock_found_late_tells_once_what_is_due(alarm):
    stop(alarm, now=NOW)
    run(alarm, now=NOW + 19 * HOUR)
    look(19)

    assert told(alarm) == [(2, "Ann"), (2, "Bob")]


def test_a_shorter_clock_is_told_by_its_own_parts(alarm):
    look(12)
    run(alarm, until=NOW + 16 * HOUR, now=NOW + 12.5 * HOUR)
    look(12.5)

    assert told(alarm) == [(1, "Ann"), (2, "Ann"), (2, "Bob")]


def test_the_same_clock_noted_again_changes_nothing(alarm):
    look(12)
    run(alarm, now=NOW + 13 * HOUR, text="Report at once")
    look(13)

    alarm.refresh_from_db()
    assert (alarm.clock_note, told(alarm)) == ("Report at once", [(1, "Ann")])


def test_a_clock_that_runs_again_tells_what_was_taken_back_before_it_had_gone(alarm):
    """40 CFR 280.50: an answer that is withdrawn answers nothing, and the same 24 hours run on."""
    look(12)
    stop(alarm, now=NOW + 13 * HOUR)
    run(alarm, now=NOW + 14 * HOUR)
    tell(at=NOW + 14 * HOUR)

    assert [one.subject.partition(".")[0] for one in mail.outbox] == ["Half of the legal time is over"]
    [notice] = alarm.notices.filter(cause__contains=":clock:")
    assert (notice.withdrawn_at, notice.due_at) == (None, NOW + 12 * HOUR)


def test_a_clock_that_runs_again_repeats_no_mail_that_went_out(alarm):
    tell(at=NOW + 12 * HOUR)
    stop(alarm, now=NOW + 13 * HOUR)
    run(alarm, now=NOW + 14 * HOUR)
    tell(at=NOW + 14 * HOUR)

    assert len(mail.outbox) == 1


def test_two_workers_make_one_call(alarm):
    for _ in range(2):
        look(12)
    Notice.objects.filter(cause__contains=":clock:")

    assert told(alarm) == [(1, "Ann")]


def test_the_mail_says_which_clock_and_how_much_is_left(alarm):
    tell(at=NOW + 12 * HOUR)

    [message] = mail.outbox
    bodies = [unescape(str(message.body)), unescape(str(message.alternatives[0].content))]
    assert message.subject.startswith("Half of the legal time is over. ")
    # The mail is written within the minute after noon on the clock: 12 hours, less the tick of the worker.
    assert all("is over: 11 h 59 min are left" in body for body in bodies)
    assert all("Report within 24 hours" in body for body in bodies)


def test_at_the_end_the_mail_says_that_the_time_is_over(alarm):
    look(24)
    send(at=UNTIL)

    assert all("The legal time is over. Report now" in str(one.body) for one in mail.outbox)
    assert {one.subject.partition(".")[0] for one in mail.outbox} == {"The legal time is over"}


def test_a_mail_about_a_clock_joins_the_thread_of_its_alarm(alarm):
    first = alarm.notices.order_by("pk").first()
    tell(at=NOW + 12 * HOUR)

    assert mail.outbox[0].extra_headers["References"] == first.message_id


def test_where_the_address_is_refused_everybody_is_told(alarm):
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell(at=NOW + 12 * HOUR)

    assert [one.to[0].partition(" ")[0] for one in mail.outbox] == ["Bob", "mia"]


def test_with_nobody_to_tell_the_clock_keeps_waiting_and_shows(own):
    alarm = raised(own, "x")
    run(alarm)
    for _ in range(2):
        look(12)

    alarm.refresh_from_db()
    assert told(alarm) == []
    assert alarm.untold_reason == "there is nobody to tell"
    assert alarm.clock_step_at > NOW + 12 * HOUR


def test_a_call_about_a_clock_that_is_overdue_counts_as_waiting(alarm):
    assert oldest_waiting_notice(NOW + 12 * HOUR + minutes(9)) == NOW + 12 * HOUR


def test_an_alarm_of_low_priority_has_its_clock_called_too(site, owner):
    call_list(site, (0, [contact("Ann")]), (10, [contact("Bob")]))
    alarm = raised(site, "T1", "delivery-needed")
    run(alarm)
    look(18)

    assert told(alarm) == [(2, "Ann"), (2, "Bob")]

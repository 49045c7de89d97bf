"""Sending what is written down. Classes of answers: RFC 3463 section 3.1; SMTP codes: RFC 5321 section 4.2."""

import smtplib
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend

from alarms.delivery import answer_of
from alarms.models import Notice
from alarms.queries import oldest_waiting_notice
from alarms.services import sending
from alarms.services.answering import acknowledge
from alarms.services.escalation import escalate_due
from alarms.services.mailboxes import LEASE
from alarms.services.sending import send_due
from alarms.services.telling import drain
from tests.alarms.sites import call_list, contact, fallback, minutes, raised
from tests.world import NOW

UNKNOWN_USER = {"ann@example.com": (550, b"5.1.1 no such user")}
GREYLISTED = {"ann@example.com": (450, b"4.7.1 try again later")}


def send(*, at=NOW, limit=100) -> int:
    return send_due(now=at, clock=lambda: at, limit=limit)


def tell(*, at=NOW) -> None:
    """Everything that is due at one moment."""
    ticks = iter(at + timedelta(milliseconds=n) for n in range(10_000))
    drain(clock=lambda: next(ticks), at_most=minutes(1))


def refusing(error: Exception, to: str = "ann@example.com"):
    """A mail server that answers like this for one person and takes the mails of all others."""

    def send_messages(backend, messages):
        if any(to in one.to[0] for one in messages):
            raise error
        return original(backend, messages)

    original = EmailBackend.send_messages
    return patch.object(EmailBackend, "send_messages", send_messages)


def sent_to() -> list[str]:
    return [one.to[0].partition(" ")[0] for one in mail.outbox]


@pytest.fixture
def alarm(site):
    opened = raised(site)
    escalate_due(now=NOW, limit=10)
    return opened


def test_a_mail_goes_out_once(alarm):
    assert [send(), send()] == [1, 0]

    notice = alarm.notices.get()
    assert sent_to() == ["Ann"]
    assert (notice.sent_at, notice.tries, notice.claimed_until) == (NOW, 1, None)
    assert [one.outcome for one in notice.attempts.all()] == [2]


def test_a_notice_that_another_worker_claimed_is_left_alone_until_the_claim_ends(alarm):
    Notice.objects.update(claimed_until=NOW + LEASE)

    assert [send(), send(at=NOW + LEASE)] == [0, 1]


def test_a_transient_failure_is_tried_again_later_and_later(alarm):
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        tries = [send(at=NOW + minutes(after)) for after in (0, 0.5, 1, 2, 3)]

    notice = alarm.notices.get()
    assert tries == [1, 0, 1, 0, 1]
    assert [(one.outcome, one.code) for one in notice.attempts.all()] == [(4, "450 4.7.1")] * 3
    assert (notice.failed_at, notice.try_at) == (None, NOW + minutes(3 + 4))
    assert oldest_waiting_notice(NOW + minutes(5)) == NOW


def test_a_permanent_failure_climbs_at_once(alarm):
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell()

    refused, next_one = Notice.objects.order_by("pk")
    assert (refused.failed_at is not None, refused.attempts.get().code) == (True, "550 5.1.1")
    assert (next_one.step, next_one.name, next_one.sent_at is not None) == (2, "Bob", True)


def test_a_step_of_which_somebody_was_told_does_not_climb_early(site):
    call_list(site, (0, [contact("Ann"), contact("Cem")]), (10, [contact("Bob")]))
    raised(site)
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell()

    assert sent_to() == ["Cem"]


def test_past_the_end_of_the_list_the_operators_fallback_people_are_told(site, owner):
    fallback(owner, "mia")
    call_list(site, (0, [contact("Ann")]))
    raised(site)
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell()
        tell(at=NOW + minutes(1))

    assert sent_to() == ["mia"]


def test_nobody_who_can_be_told_makes_no_endless_loop(site):
    call_list(site, (0, [contact("Ann")]))
    alarm = raised(site)
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell()

    alarm.refresh_from_db()
    assert Notice.objects.count() == 1
    assert alarm.untold_reason == "every address was refused"


def test_a_mail_that_went_out_ends_that_nobody_could_be_told(site):
    call_list(site, (0, [contact("Ann")]))
    alarm = raised(site)
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        tell()
    tell(at=NOW + minutes(30))

    alarm.refresh_from_db()
    assert sent_to() == ["Ann"]
    assert (alarm.untold_since, alarm.untold_reason) == (None, None)


@pytest.mark.parametrize(
    "error",
    [
        ConnectionRefusedError("no server"),
        TimeoutError("silent server"),
        smtplib.SMTPServerDisconnected("gone"),
        smtplib.SMTPAuthenticationError(535, b"5.7.8 wrong password"),
        smtplib.SMTPSenderRefused(550, b"5.7.1 not from you", "alarms@example.com"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_a_fault_of_the_way_or_of_ours_gives_no_mail_up(alarm, error):
    with refusing(error):
        for after in range(0, 600, 15):
            send(at=NOW + minutes(after))
    send(at=NOW + minutes(700))

    assert sent_to() == ["Ann"]


def test_one_bad_row_does_not_stop_the_queue_and_climbs_in_the_end(site):
    """A fault of ours, not of the mail server: tried a few times, then the next people are told."""
    call_list(site, (0, [contact("Ann"), contact("Cem")]), (600, [contact("Bob")]))
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    alarm.notices.filter(name="Ann").update(email="no address\nat all")

    for after in range(0, 120, 15):
        send(at=NOW + minutes(after))

    bad = alarm.notices.get(name="Ann")
    assert sent_to() == ["Cem"]
    assert (bad.tries, bad.failed_at is not None) == (sending.MAX_OWN_FAULTS, True)


def test_a_result_that_cannot_be_marked_is_tried_again_when_its_claim_ends(alarm):
    with patch.object(sending, "_settle", side_effect=RuntimeError("database away")):
        send()
    send(at=NOW + LEASE - minutes(1))
    send(at=NOW + LEASE)

    assert sent_to() == ["Ann", "Ann"]
    assert len({one.extra_headers["Message-ID"] for one in mail.outbox}) == 1


def test_a_withdrawn_mail_is_not_sent(alarm):
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)

    assert send() == 0
    assert mail.outbox == []


def test_people_with_fresh_notices_go_before_those_whose_mail_failed(site, alarm):
    alarm.notices.update(tries=3)
    call_list(site, (0, [contact("Cem")]))
    raised(site, "SN1")
    escalate_due(now=NOW, limit=10)
    send(limit=1)

    assert sent_to() == ["Cem"]


def test_no_transaction_is_open_while_a_mail_is_sent(alarm):
    """Otherwise a slow mail server would hold the database: on SQLite, everybody's writes."""
    from django.db import connection

    depth = []

    def send_messages(backend, messages):
        depth.append(len(connection.savepoint_ids))
        return len(messages)

    with patch.object(EmailBackend, "send_messages", send_messages):
        before = len(connection.savepoint_ids)
        send()

    assert depth == [before]


@pytest.mark.parametrize(
    ("error", "outcome", "code"),
    [
        # The enhanced code decides where the server gives one: RFC 3463 section 2, X.Y.Z with class X.
        (smtplib.SMTPRecipientsRefused({"a@b": (550, b"5.1.1 unknown")}), 5, "550 5.1.1"),
        (smtplib.SMTPRecipientsRefused({"a@b": (452, b"4.2.2 full")}), 4, "452 4.2.2"),
        (smtplib.SMTPRecipientsRefused({"a@b": (553, b"bad mailbox name")}), 5, "553"),
        (smtplib.SMTPRecipientsRefused({"a@b": (421, b"closing")}), 4, "421"),
        (smtplib.SMTPDataError(554, b"5.6.0 refused"), 5, "554 5.6.0"),
        (smtplib.SMTPDataError(451, "local error"), 4, "451"),
        (smtplib.SMTPNotSupportedError("SMTPUTF8 not supported"), 5, "5.6.7"),
        (smtplib.SMTPConnectError(554, b"no service"), 4, "554"),
        (OSError("unreachable"), 4, ""),
    ],
    ids=str,
)
def test_an_answer_has_the_class_of_its_code(error, outcome, code):
    assert answer_of(error)[:2] == (outcome, code)

"""One mail a person a minute: what comes due together travels together, and nothing is missing from it.

The minute is our own promise. Message-ID and threads: RFC 5322 section 3.6.4; answers of servers: RFC 3463.
"""

import re
import smtplib
from datetime import timedelta
from html import unescape
from itertools import pairwise
from unittest.mock import patch

import pytest
from django.core import mail

from alarms.models import Alarm, Digest, Mailbox, Notice
from alarms.services import digest_mail, parcels, sending
from alarms.services.answering import acknowledge
from alarms.services.escalation import escalate_due
from alarms.services.links import notice_of_link
from alarms.services.mailboxes import LEASE, MAIL_GAP
from tests import world
from tests.alarms.sites import call_list, contact, minutes, raised
from tests.alarms.test_mail import parsed, read
from tests.alarms.test_sending import GREYLISTED, UNKNOWN_USER, refusing, send, sent_to
from tests.world import NOW

SECOND = timedelta(seconds=1)


def opened(at, *devices: str, now=NOW, condition: str = "sump-liquid") -> list[Alarm]:
    """Alarms at these devices, their calls written down."""
    alarms = [raised(at, device, condition, now=now) for device in devices]
    escalate_due(now=now, limit=100)
    return alarms


def named(message) -> set[str]:
    """Devices whose alarms a mail answers, by its links: each link must name a notice."""
    links = re.findall(r"/alarms/answer/(\S+)", read(message)[0])
    return {Notice.objects.get(pk=notice_of_link(link)).alarm.device for link in links}


def test_the_first_notice_goes_at_once_and_what_follows_within_the_minute_goes_together(site):
    opened(site, "a")
    send()
    opened(site, "b", now=NOW + 10 * SECOND)
    opened(site, "c", now=NOW + 50 * SECOND)
    early = [send(at=NOW + after * SECOND) for after in (10, 50, 59)]
    send(at=NOW + MAIL_GAP)

    assert early == [0, 0, 0]
    assert [named(one) for one in mail.outbox] == [{"a"}, {"b", "c"}]
    assert mail.outbox[0].subject.startswith("Liquid in a sump: a")
    assert mail.outbox[1].subject == "2 alarms: Liquid in a sump: b, Marina OWN and more"


def test_a_storm_is_one_mail_a_minute_and_nothing_is_missing_from_it(site):
    call_list(site, (0, [contact("Ann"), contact("Cem")]))
    moment, handed_over = NOW, []
    for step in range(40):
        opened(site, f"d{step}", now=moment)
        before = len(mail.outbox)
        send(at=moment)
        handed_over += [(moment, one) for one in mail.outbox[before:]]
        moment += 7 * SECOND
    send(at=moment + MAIL_GAP)

    for name in ("Ann", "Cem"):
        times = [at for at, one in handed_over if one.to[0].startswith(name)]
        assert min(b - a for a, b in pairwise(times)) >= MAIL_GAP
        told = [named(one) for one in mail.outbox if one.to[0].startswith(name)]
        assert set.union(*told) == {f"d{step}" for step in range(40)}
        assert sum(map(len, told)) == 40
    assert not Notice.objects.filter(sent_at=None).exists()


@pytest.mark.parametrize("part", [0, 1], ids=["text", "html"])
def test_each_alarm_stands_with_place_condition_priority_time_and_first_step(site, part):
    alarms = [*opened(site, "SU1"), *opened(site, "SN1", condition="sump-fuel")]
    send()

    body = unescape(read(mail.outbox[0])[part])
    for alarm in alarms:
        entry = digest_mail.entry_of(alarm.notices.get(), alarm)
        assert entry.condition.title in body
        assert f"{alarm.component.get_kind_display()} {alarm.place}" in body
        assert f"riority {alarm.priority}" in body or f"PRIORITY {alarm.priority.upper()}" in body
        # 15:00 UTC on 4 March is winter time in New York: tz database, zone America/New_York.
        assert "Since Wed 04 Mar 2026 10:00 EST" in body
        assert entry.condition.first_steps[0] in body
        assert all(caution.text in body for caution in entry.condition.cautions)
    assert "24 hours" in body  # 40 CFR 280.50: sump-fuel is a monitoring result


def test_the_most_urgent_comes_first_and_of_two_alike_the_possible_release(site):
    """Our own order: priority, then whether it may be a release, then time."""
    opened(site, "late", condition="sensor-fault")
    opened(site, "fuel", condition="sump-fuel")
    opened(site, "water", condition="sump-liquid")
    opened(site, "order", condition="delivery-needed")
    Alarm.objects.filter(device="late").update(priority="medium", raised_at=NOW - minutes(5))
    send()

    text = read(mail.outbox[0])[0]
    places = [text.index(f"{word}, Marina OWN") for word in ("fuel", "water", "late", "order")]
    assert places == sorted(places)


def test_the_same_address_in_two_organisations_is_two_people(site, contractor):
    """A mail shows nothing that the organisation of its reader may not see."""
    call_list(site, (0, [contact("Ann"), contact("Ann", contractor.pk)]))
    opened(site, "a", "b")
    Notice.objects.bulk_create(  # the same person once more, for the other organisation
        Notice(
            **{
                field.attname: getattr(one, field.attname)
                for field in Notice._meta.concrete_fields
                if field.attname not in ("id", "cause", "organisation_id", "message_id")
            },
            cause=f"{one.cause}:x",
            organisation_id=contractor.pk,
            message_id=f"<x{one.pk}@localhost>",
        )
        for one in Notice.objects.filter(organisation=site.operator)
    )
    send()

    assert [sorted(named(one)) for one in mail.outbox] == [["a", "b"], ["a", "b"]]
    assert Mailbox.objects.count() == Digest.objects.count() == 2
    for digest in Digest.objects.all():
        assert {one.organisation_id for one in digest.notices.all()} == {digest.organisation_id}


def test_two_spellings_of_an_address_are_one_person(site):
    opened(site, "a", "b")
    Notice.objects.filter(alarm__device="b").update(email="Ann@Example.com")
    send()

    assert [named(one) for one in mail.outbox] == [{"a", "b"}]


def test_an_address_that_is_refused_for_good_climbs_every_alarm_of_the_mail(site):
    opened(site, "a", "b", "c")
    with refusing(smtplib.SMTPRecipientsRefused(UNKNOWN_USER)):
        send()
    escalate_due(now=NOW, limit=10)
    send()

    assert Notice.objects.filter(name="Ann").exclude(failed_at=None).count() == 3
    assert sent_to() == ["Bob"]
    assert named(mail.outbox[0]) == {"a", "b", "c"}


def test_a_refused_mail_is_tried_again_as_it_was_and_newcomers_do_not_wait_for_it(site):
    opened(site, "a", "b")
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        send()
    opened(site, "c", now=NOW + MAIL_GAP)
    for after in (1, 2):
        send(at=NOW + minutes(after))

    assert [named(one) for one in mail.outbox] == [{"c"}, {"a", "b"}]
    assert Digest.objects.count() == 1


def test_a_mail_that_was_put_off_goes_though_new_alarms_keep_coming(site):
    """Found by tests/faults/workers_killed.py: a busy person's mail was put off once and then never tried again."""
    opened(site, "a", "b")
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        send()
    for minute in range(1, 6):
        opened(site, f"new {minute}", now=NOW + minutes(minute))
        send(at=NOW + minutes(minute))

    told = [named(one) for one in mail.outbox if one.to[0].startswith("Ann")]
    assert {"a", "b"} in told
    assert set.union(*told) == {"a", "b", *(f"new {minute}" for minute in range(1, 6))}


def test_a_crash_between_sending_and_marking_repeats_the_mail_as_the_same_mail(site):
    opened(site, "a", "b")
    with patch.object(sending, "settle_sent", side_effect=RuntimeError("killed")):
        send()
    opened(site, "c", now=NOW + minutes(1))
    quiet = send(at=NOW + minutes(1))
    for after in (LEASE, LEASE + MAIL_GAP):
        send(at=NOW + after)

    # The newcomer goes as soon as the dead worker's claim on the mailbox ends; the repeat a minute later, or before it.
    first, *others = mail.outbox
    assert quiet == 0
    assert sorted(sorted(named(one)) for one in others) == [["a", "b"], ["c"]]
    repeat = next(one for one in others if named(one) == {"a", "b"})
    assert repeat.extra_headers["Message-ID"] == first.extra_headers["Message-ID"]


def test_a_notice_that_cannot_be_written_keeps_none_of_the_others_waiting(site):
    bad, *_ = opened(site, "bad", "b", "c")
    entry_of = digest_mail.entry_of

    def break_one(notice, alarm):
        if alarm.pk == bad.pk:
            raise RuntimeError("broken row")
        return entry_of(notice, alarm)

    with patch.object(sending, "entry_of", break_one):
        send()

    assert [named(one) for one in mail.outbox] == [{"b", "c"}]
    left = bad.notices.get()
    assert (left.sent_at, left.tries, left.digest, left.claimed_until) == (None, 1, None, None)


def test_what_was_answered_between_two_tries_is_not_told_any_more(site):
    gone, *_ = opened(site, "a", "b", "c")
    with refusing(smtplib.SMTPRecipientsRefused(GREYLISTED)):
        send()
    acknowledge(alarm=gone, by="Bob", note=None, now=NOW + SECOND)
    send(at=NOW + minutes(1))

    assert [named(one) for one in mail.outbox] == [{"b", "c"}]


def test_more_than_a_mail_carries_goes_a_minute_later_the_most_urgent_first(site):
    opened(site, "late", "later", condition="sensor-fault")
    opened(site, "fuel", "vapor", condition="sump-fuel")
    with patch.object(parcels, "MAX_ALARMS", 2):
        send()
        send(at=NOW + MAIL_GAP)

    assert [named(one) for one in mail.outbox] == [{"fuel", "vapor"}, {"late", "later"}]


def test_a_later_mail_about_one_alarm_follows_the_shared_mail(site):
    alarm, _ = opened(site, "a", "b")
    send()
    call_list(site, (0, [contact("Bob")]), (5, [contact("Ann")]), now=NOW + SECOND)
    acknowledge(alarm=Alarm.objects.get(device="b"), by="Bob", note=None, now=NOW + SECOND)
    escalate_due(now=NOW + minutes(5), limit=10)
    send(at=NOW + minutes(5))

    digest = parsed(mail.outbox[0])
    later = next(parsed(one) for one in mail.outbox[1:] if one.to[0].startswith("Ann"))
    assert digest["References"] is None
    assert later["In-Reply-To"] == digest["Message-ID"]
    assert later["References"].split() == [
        alarm.notices.order_by("pk")[0].message_id,
        digest["Message-ID"],
    ]


def test_the_api_names_the_mail_that_carried_a_notice(site, owner_client):
    alarm, _ = opened(site, "a", "b")
    send()

    [notice] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/notices").json()["results"]
    assert notice["message_id"] == parsed(mail.outbox[0])["Message-ID"]


def test_what_people_typed_cannot_leave_its_header_or_become_markup(owner):
    site = world.facility(owner, "EVIL", name='Pier\r\nBcc: thief@example.com <img src="x">')
    call_list(site, (0, [contact("Ann")]))
    opened(site, "a", "<script>")
    Notice.objects.update(name="Ann\r\nBcc: thief@example.com")
    send()

    whole = parsed(mail.outbox[0])
    assert whole["Bcc"] is None
    assert [one.addr_spec for one in whole["To"].addresses] == ["ann@example.com"]
    assert "<script" not in read(mail.outbox[0])[1]
    assert "<img" not in read(mail.outbox[0])[1]

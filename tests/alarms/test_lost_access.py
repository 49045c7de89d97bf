"""Mails that wait while somebody's access ends. Who may be told what of whose facility: our own promise."""

from datetime import timedelta

import pytest

from alarms.delivery import LATER, Answer
from alarms.models import Alarm
from alarms.services.clocks import note_clock
from alarms.services.escalation import escalate_due
from alarms.services.settling import settle_later
from equipment.vocabulary import AccessRole
from tests import world
from tests.alarms.sites import call_list, contact, fallback, minutes, raised
from tests.alarms.test_sending import send, sent_to, tell
from tests.world import NOW

HOUR = timedelta(hours=1)


@pytest.fixture
def alarm(site, contractor):
    """Cem of the contractor is owed the first mail; Bob of the operator comes ten minutes later."""
    call_list(site, (0, [contact("Cem", contractor.pk)]), (10, [contact("Bob")]))
    opened = raised(site)
    escalate_due(now=NOW, limit=10)
    assert [one.name for one in opened.notices.all()] == ["Cem"]
    return opened


def end_access(contractor, *, at=NOW):
    contractor.grants.update(ends_at=at)


def test_whoever_lost_access_gets_no_mail_and_the_next_people_are_told_at_once(alarm, contractor):
    end_access(contractor)
    tell(at=NOW + minutes(1))

    assert sent_to() == ["Bob"]
    assert [(one.name, one.withdrawn_at is None) for one in alarm.notices.order_by("pk")] == [
        ("Cem", False),
        ("Bob", True),
    ]


def test_a_mail_that_waited_for_hours_is_taken_back_too(alarm, contractor):
    end_access(contractor, at=NOW + HOUR)

    send(at=NOW + 10 * HOUR)

    assert sent_to() == []


def test_whoever_has_access_yet_is_told(alarm, contractor):
    end_access(contractor, at=NOW + 11 * HOUR)

    send(at=NOW + 10 * HOUR)

    assert sent_to() == ["Cem"]


def test_a_mail_that_was_tried_before_is_taken_back_as_well(alarm, contractor):
    settle_later(list(alarm.notices.all()), Answer(LATER, "450 4.7.1", "later"), now=NOW)
    end_access(contractor)

    tell(at=NOW + minutes(2))

    assert sent_to() == ["Bob"]


def test_what_they_may_see_at_another_facility_goes_out_all_the_same(alarm, site, owner, contractor):
    other = world.facility(owner, "OTHER")
    world.grant(contractor, other, AccessRole.CONTRACTOR)
    call_list(other, (0, [contact("Cem", contractor.pk)]))
    raised(other, "T9")
    escalate_due(now=NOW, limit=10)
    site.grants.filter(organisation=contractor).update(ends_at=NOW)

    tell(at=NOW + minutes(1))

    assert sorted(sent_to()) == ["Bob", "Cem"]
    assert Alarm.objects.get(facility=other).notices.get().sent_at is not None


def test_past_the_end_of_the_list_the_operators_own_people_are_told(site, owner, contractor):
    fallback(owner, "mia")
    call_list(site, (0, [contact("Cem", contractor.pk)]))
    raised(site)
    escalate_due(now=NOW, limit=10)
    end_access(contractor)

    tell(at=NOW + minutes(1))

    assert sent_to() == ["mia"]


def test_with_nobody_left_the_alarm_says_so(site, contractor):
    call_list(site, (0, [contact("Cem", contractor.pk)]))
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    end_access(contractor)

    tell(at=NOW + minutes(1))

    alarm.refresh_from_db()
    assert alarm.untold_reason == "there is nobody to tell"


def test_a_call_about_a_clock_goes_to_everybody_else(alarm, contractor):
    note_clock(alarm_id=alarm.pk, text="Report", since=NOW, until=NOW + 24 * HOUR, now=NOW)
    Alarm.objects.update(next_step_at=None)
    alarm.notices.update(withdrawn_at=NOW)
    escalate_due(now=NOW + 12 * HOUR, limit=10)
    end_access(contractor, at=NOW + 12 * HOUR)

    tell(at=NOW + 12 * HOUR + minutes(1))

    assert sent_to() == ["Bob"]

"""An alarm knows which clock of the law runs for it, and its mails say so."""

from datetime import timedelta
from html import unescape

import pytest
from django.core import mail

from alarms.dispositions import DispositionType
from alarms.models import Alarm
from alarms.services.dispositions import dispose
from alarms.services.escalation import escalate_due
from compliance.services import assess
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from tests import world
from tests.alarms.sites import call_list, contact, minutes, raised
from tests.alarms.test_sending import send
from tests.world import NOW

DAY = timedelta(hours=24)
# 24 elapsed hours after 15:00 UTC on 4 March 2026 is 10:00 in New York: 40 CFR 280.50, tz database.
UNTIL = "Thu 05 Mar 2026 10:00 EST"
WORDS = "Suspected release reported within 24 hours (40 CFR 280.50(a)-(c))"


@pytest.fixture
def site(own):
    world.line(own)
    call_list(own, (0, [contact("Ann")]), (10, [contact("Bob")]))
    return own


@pytest.fixture
def alarm(site):
    return raised(site, "SN1", "sump-fuel")


def judged(alarm, at=NOW) -> tuple[str | None, object]:
    assess.drain(clock=lambda: at)
    alarm.refresh_from_db()
    return alarm.clock_note, alarm.clock_until


def test_an_alarm_that_starts_a_clock_says_which_and_until_when(alarm):
    assert judged(alarm) == (WORDS, NOW + DAY)


def test_the_api_shows_the_clock_of_an_alarm(alarm, owner_client):
    judged(alarm)

    shown = owner_client.get(f"/api/v1/alarms/{alarm.pk}").json()

    assert (shown["clock_note"], shown["clock_until"]) == (WORDS, "2026-03-05T15:00:00Z")


@pytest.mark.parametrize("condition", ["sensor-fault", "overfill-level"])
def test_an_alarm_without_a_clock_says_nothing(site, condition):
    assert judged(raised(site, "SU1", condition)) == (None, None)


def test_a_clock_that_has_run_out_is_still_shown(alarm):
    assert judged(alarm, NOW + 2 * DAY) == (WORDS, NOW + DAY)


def test_a_filed_report_ends_the_note(site, alarm):
    judged(alarm)
    deed = Deed(
        activity="report-to-agency",
        performed=Moment(instant=NOW),
        measurements={"report": "suspected release"},
        regarding=f"alarm:{alarm.pk}",
    )
    record_visit(facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=NOW)

    assert judged(alarm) == (None, None)


def test_an_answer_with_its_proof_ends_the_note(site, alarm):
    judged(alarm)
    dispose(
        alarm=alarm,
        type=DispositionType.CONTAINED,
        at=NOW,
        evidence={"repaired_at": NOW, "liquid_removed_at": NOW},
        by="test",
        organisation=site.operator,
        now=NOW,
    )

    assert judged(alarm) == (None, None)


def test_a_judgement_that_moves_nothing_leaves_the_note_as_it_is(site, alarm):
    judged(alarm)
    before = Alarm.objects.values().get(pk=alarm.pk)

    judged(alarm, NOW + minutes(5))

    assert Alarm.objects.values().get(pk=alarm.pk) == before


def bodies(message) -> list[str]:
    return [unescape(str(message.body)), unescape(str(message.alternatives[0].content))]


def test_the_next_mail_says_which_clock_runs_until_when(alarm):
    escalate_due(now=NOW, limit=10)
    send()
    judged(alarm)

    escalate_due(now=NOW + minutes(10), limit=10)
    send(at=NOW + minutes(10))

    first, second = mail.outbox
    assert all("clock of the law" not in body.casefold() for body in bodies(first))
    assert all("clock of the law" in body.casefold() for body in bodies(second))
    assert all(WORDS in body and UNTIL in body for body in bodies(second))

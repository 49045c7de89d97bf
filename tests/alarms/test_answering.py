"""Acknowledging: the first counts. The states it leads to: ANSI/ISA-18.2 (from memory)."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Event
from unittest.mock import patch

import pytest
from django.db import IntegrityError, connection, transaction

from alarms.models import Alarm
from alarms.services import episodes
from alarms.services.answering import acknowledge
from alarms.services.escalation import escalate_due
from tests import world
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.world import NOW


def test_an_acknowledgement_says_who_and_when_and_stops_the_calls(site):
    alarm = raised(site)
    outcome = acknowledge(alarm=alarm, by="Ann", note="pump is off", now=NOW + minutes(4))

    alarm.refresh_from_db()
    assert outcome.first
    assert (alarm.state, alarm.acknowledged_at, alarm.acknowledged_by) == (
        "acknowledged",
        NOW + minutes(4),
        "Ann",
    )
    assert (alarm.acknowledged_note, alarm.next_step_at) == ("pump is off", None)


def test_a_second_acknowledgement_changes_nothing(site):
    alarm = raised(site)
    acknowledge(alarm=alarm, by="Ann", note="first", now=NOW)
    outcome = acknowledge(alarm=alarm, by="Bob", note="second", now=NOW + minutes(1))

    assert not outcome.first
    assert (outcome.alarm.acknowledged_by, outcome.alarm.acknowledged_note) == ("Ann", "first")
    assert outcome.alarm.acknowledged_at == NOW


def test_acknowledging_what_has_cleared_ends_the_alarm(site):
    alarm = raised(site)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))

    assert acknowledge(alarm=alarm, by="Ann", note=None, now=NOW + minutes(2)).alarm.state == "normal"


def test_mails_that_have_not_gone_are_withdrawn(site):
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW + minutes(1))

    assert [one.withdrawn_at for one in alarm.notices.all()] == [NOW + minutes(1)]


def test_acknowledging_is_no_fact_for_the_rules(site):
    alarm = raised(site)
    before = type(site).objects.get(pk=site.pk).facts_version
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)

    assert type(site).objects.get(pk=site.pk).facts_version == before


@pytest.mark.parametrize(
    "changes",
    [
        {"state": "half acknowledged"},
        {"state": "acknowledged"},
        {"acknowledged_at": NOW},
        {"device": "SU1"},
        {"condition_class": "harmless"},
        {"priority": "top"},
    ],
    ids=str,
)
def test_the_database_refuses_what_must_never_be(site, changes):
    alarm = raised(site)

    with pytest.raises(IntegrityError), transaction.atomic():
        Alarm.objects.filter(pk=alarm.pk).update(**changes)


@pytest.mark.parametrize("device", ["SU1", "Sump 9"])
def test_the_database_holds_one_open_alarm_for_a_place_and_condition(site, device):
    alarm = raised(site, device)
    alarm.pk = None

    with pytest.raises(IntegrityError), transaction.atomic():
        alarm.save(force_insert=True)


@pytest.mark.django_db(transaction=True)
def test_of_many_at_the_same_moment_exactly_one_is_first():
    """On a real file or server: threads with connections of their own."""
    owner = world.organisation("Own Marinas")
    site = world.facility(owner, "OWN")
    call_list(site, (0, [contact("Ann")]))
    alarm, start = raised(site), Barrier(6)

    def answer(number: int) -> tuple[bool, str | None]:
        try:
            start.wait(20)
            outcome = acknowledge(alarm=alarm, by=f"person {number}", note=None, now=NOW)
            return outcome.first, outcome.alarm.acknowledged_by
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        outcomes = list(pool.map(answer, range(6)))

    assert sum(first for first, _ in outcomes) == 1
    assert len({by for _, by in outcomes}) == 1


@pytest.mark.django_db(transaction=True)
def test_an_acknowledgement_is_not_lost_to_a_batch_that_read_the_alarm_before():
    """The batch holds the alarm's row from its reading on; on SQLite, the whole file. The answer waits for it."""
    owner = world.organisation("Own Marinas")
    site = world.facility(owner, "OWN")
    alarm, ready, read, done = raised(site, "x"), Event(), Event(), Event()
    move = episodes.move

    def slow_move(*args, **keywords):
        works = move(*args, **keywords)
        read.set()
        done.wait(1.5)  # an answer that did not have to wait would have come by then
        return works

    def answer() -> None:
        try:
            connection.ensure_connection()
            ready.set()
            read.wait(20)
            acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)
            done.set()
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool, patch.object(episodes, "move", slow_move):
        answered = pool.submit(answer)
        ready.wait(20)
        deliver(site, report("x", signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
        answered.result()

    alarm.refresh_from_db()
    assert (alarm.state, alarm.acknowledged_by, alarm.cleared_at) == ("normal", "Ann", NOW + minutes(1))

"""Ids of messages: what tells a repeat, and what becomes of an id that was used twice. Our own promise; that a lost
alarm costs more than a double one: common practice, no source."""

import pytest
from django.db import IntegrityError, transaction

from alarms.models import Alarm, Event
from alarms.queries import alarms_of, heard_from
from alarms.services.answering import acknowledge
from tests.alarms.sites import deliver, minutes, report
from tests.alarms.test_api import batch, event, post
from tests.world import NOW

LATER = NOW + minutes(60)


@pytest.fixture
def other():
    """A raise elsewhere under the id that a message about the sump has already."""
    return report("P1", "line-test-fail", id="7")


def conditions() -> set[str]:
    return {one.condition for one in Alarm.objects.all()}


def test_a_raise_under_a_used_id_is_kept_beside_the_first_and_opens_its_alarm(site, other):
    deliver(site, report(id="7"))
    intake = deliver(site, other, report("SN1"))

    first, kept = Event.objects.filter(source_event_id="7").order_by("pk")
    assert [fault.pointer for fault in intake.conflicts] == ["/events/0/id"]
    assert (kept.conflicts_with, kept.alarm.condition, kept.component.tag) == (first, "line-test-fail", "P1")
    assert kept.remark.startswith("conflicts with an earlier message of the same id, which stands")
    assert conditions() == {"sump-liquid", "line-test-fail"}
    assert intake.accepted == 1


def test_a_raise_under_a_used_id_joins_the_alarm_that_is_open(site):
    deliver(site, report(id="7"))
    intake = deliver(site, report(id="7", occurred_at=NOW + minutes(1)), now=LATER)

    alarm = Alarm.objects.get()
    assert (intake.joined, alarm.occurrences, alarm.last_raised_at) == ([alarm.pk], 2, NOW + minutes(1))


def test_a_clear_under_a_used_id_clears_nothing(site):
    deliver(site, report(id="7"))
    clear = report(id="7", signal="cleared", occurred_at=NOW + minutes(1))
    intake = deliver(site, clear, now=LATER)

    kept = Event.objects.exclude(conflicts_with=None).get()
    assert (intake.cleared, kept.alarm, Alarm.objects.get().state) == ([], None, "unacknowledged")
    assert kept.remark == "conflicts with an earlier message of the same id, which stands"


def test_a_clear_under_a_used_id_ends_no_raise_that_arrives_later(site):
    deliver(site, report("P1", "line-test-fail", id="7"))
    deliver(site, report(id="7", signal="cleared", occurred_at=NOW + minutes(1)), now=LATER)
    deliver(site, report(), now=LATER)

    assert Alarm.objects.get(condition="sump-liquid").cleared_at is None


def test_the_same_contradiction_again_is_named_again_and_moves_nothing(site, other):
    deliver(site, report(id="7"))
    acknowledge(alarm=Alarm.objects.get(pk=deliver(site, other).opened[0]), by="Ann", note=None, now=NOW)
    deliver(site, report("P1", "line-test-fail", signal="cleared", occurred_at=LATER), now=LATER)
    again = deliver(site, other, other, now=LATER + minutes(1))

    assert [fault.pointer for fault in again.conflicts] == ["/events/0/id", "/events/1/id"]
    assert (again.accepted, again.opened, again.joined) == (0, [], [])
    assert (Event.objects.filter(source_event_id="7").count(), Alarm.objects.count()) == (2, 2)


def test_two_contents_of_one_id_in_one_batch_conflict_as_well(site, other):
    intake = deliver(site, report(id="7"), other, other)

    assert [fault.pointer for fault in intake.conflicts] == ["/events/1/id", "/events/2/id"]
    assert Event.objects.exclude(conflicts_with=None).count() == 1
    assert conditions() == {"sump-liquid", "line-test-fail"}


def test_a_contradicting_raise_with_a_reset_clock_is_timed_by_its_receipt(site):
    deliver(site, report(id="7"))
    deliver(site, report(id="7", occurred_at=NOW - minutes(60 * 24 * 31)), now=LATER)

    kept, alarm = Event.objects.exclude(conflicts_with=None).get(), Alarm.objects.get()
    assert (kept.clock_doubtful, alarm.raised_at, alarm.last_raised_at) == (True, NOW, LATER)


def test_another_source_may_use_the_same_id(site):
    intake = deliver(site, report(id="7"), report(id="7", source="console-2"))

    assert (intake.accepted, intake.conflicts) == (2, [])


def test_another_organisation_may_use_the_same_source_and_id(site, contractor, other):
    """Two gateways that both call themselves console-1 and both count from 1."""
    deliver(site, report(id="7"))
    intake = deliver(site, other, by=contractor)

    assert (intake.accepted, intake.conflicts) == (1, [])
    assert conditions() == {"sump-liquid", "line-test-fail"}


def test_the_same_message_of_two_organisations_tells_when_each_of_them_knew(site, contractor):
    """Each party's own knowledge starts its own clock in some states; the second message is no repeat."""
    one = report(id="7")
    deliver(site, one)
    intake = deliver(site, one, now=LATER, by=contractor)

    alarm = Alarm.objects.get()
    assert (intake.accepted, intake.repeated, intake.joined) == (1, 0, [alarm.pk])
    assert heard_from([site.pk])[alarm.pk] == {
        site.operator_id: NOW,
        contractor.pk: LATER,
    }


def test_a_contradicting_raise_counts_as_heard_and_in_what_was_known_then(site, contractor):
    deliver(site, report("P1", "line-test-fail", id="7"), by=contractor)
    deliver(site, report(id="7"), now=NOW, by=contractor)
    deliver(site, report(occurred_at=NOW - minutes(5)), now=LATER)

    alarm = Alarm.objects.get(condition="sump-liquid")
    then = {one.condition: one.raised_at for one in alarms_of([site.pk], known_at=NOW)[site.pk]}
    assert (then["sump-liquid"], alarm.raised_at) == (NOW, NOW - minutes(5))
    assert heard_from([site.pk])[alarm.pk][contractor.pk] == NOW


def test_the_database_lets_one_message_of_an_id_stand_for_each_sender(site, contractor):
    deliver(site, report(id="7"))
    again = Event.objects.get()
    again.pk = None

    with pytest.raises(IntegrityError), transaction.atomic():
        again.save()
    again.received_from = contractor
    again.save()
    assert Event.objects.count() == 2


def test_the_database_keeps_a_contradicting_clear_from_an_alarm(site, other):
    deliver(site, report(id="7"))
    deliver(site, other)
    kept = Event.objects.exclude(conflicts_with=None)

    with pytest.raises(IntegrityError, match="conflicting_clear_moves_no_alarm"), transaction.atomic():
        kept.update(signal="cleared")


def test_the_sender_of_a_contradicting_raise_hears_409_and_people_are_told(site, owner_client):
    path = f"facilities/{site.pk}/events"
    post(owner_client, path, batch(event()))
    answer = post(owner_client, path, batch(event(device="P1", condition="line-test-fail")))

    assert (answer.status_code, answer.json()["type"]) == (409, "urn:problem:event-id-reused")
    assert "a raise moved its alarm all the same" in answer.json()["detail"]
    assert Alarm.objects.get(condition="line-test-fail").next_step_at is not None

"""A sensor that is registered after it cried. One fault is one alarm: ISA-18.2's return to normal is of the same alarm;
which names a device goes by is common practice, no source."""

import pytest

from alarms.lifecycle import State
from alarms.models import Alarm, Event
from alarms.queries import notices_of
from alarms.services.answering import acknowledge
from alarms.services.escalation import escalate_due
from equipment.models import Component
from tests import world
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.world import NOW


def said(at, device: str, signal: str, after: float):
    moment = NOW + minutes(after)
    return deliver(at, report(device, signal=signal, occurred_at=moment), now=moment)


@pytest.fixture
def cried(site) -> Alarm:
    """Liquid at a sensor that nobody has on file, and then it is."""
    alarm = raised(site, "NEW 7")
    world.component(site, "sensor", "SN7", parent="SU1", label="New 7")
    return alarm


def test_the_clear_from_the_registered_sensor_ends_what_the_unknown_one_raised(site, cried):
    acknowledge(alarm=cried, by="Ann", note=None, now=NOW + minutes(2))

    intake = said(site, "NEW 7", "cleared", 5)

    cried.refresh_from_db()
    assert intake.cleared == [cried.pk]
    assert (cried.state, cried.cleared_at) == (State.NORMAL, NOW + minutes(5))


@pytest.mark.parametrize("device", ["NEW 7", "new 7", "SN7"])
def test_a_further_raise_joins_it_by_whatever_name(site, cried, device):
    intake = said(site, device, "raised", 5)

    cried.refresh_from_db()
    assert (intake.opened, intake.joined, cried.occurrences) == ([], [cried.pk], 2)
    assert (cried.component, cried.device) == (Component.objects.get(facility=site, tag="SN7"), "")


def test_its_messages_go_with_it_and_still_say_what_the_device_called_itself(site, cried):
    said(site, "SN7", "raised", 5)

    events = Event.objects.filter(alarm=cried).order_by("pk")
    assert [(one.component.tag, one.device) for one in events] == [("SN7", "NEW 7"), ("SN7", "SN7")]


def test_the_rules_see_the_sensor(site, cried):
    said(site, "SU1", "raised", 5)
    before = site.facts_version
    site.refresh_from_db()

    assert site.facts_version > before
    assert Alarm.objects.get(pk=cried.pk).component.tag == "SN7"


def test_where_the_sensor_cried_by_its_own_name_too_both_are_one_alarm(site):
    call_list(site, (0, [contact("Ann")]))
    first = raised(site, "NEW 7", now=NOW)
    second = raised(site, "SU1", now=NOW + minutes(1))
    escalate_due(now=NOW + minutes(2), limit=10)
    Component.objects.filter(facility=site, tag="SU1").update(label="New 7")

    said(site, "SU1", "raised", 5)

    first.refresh_from_db()
    second.refresh_from_db()
    assert (second.merged_into, second.state) == (first, State.NORMAL)
    assert (first.state, first.raised_at, first.occurrences) == (State.UNACKNOWLEDGED, NOW, 3)
    assert {one.alarm_id for one in notices_of(first)} == {first.pk, second.pk}
    said(site, "NEW 7", "cleared", 9)
    first.refresh_from_db()
    assert first.cleared_at == NOW + minutes(9)


def test_a_device_that_nobody_registered_keeps_its_name(site):
    alarm = raised(site, "NEW 7")
    said(site, "SU1", "raised", 5)

    alarm.refresh_from_db()
    assert (alarm.component, alarm.device) == (None, "NEW 7")

"""What other apps read of alarms."""

from inspect import getclosurevars

from alarms.queries import alarms_of
from alarms.services.escalation import escalate_due
from alarms.tasks import tell
from tests import world
from tests.alarms.sites import deliver, minutes, raised, report
from tests.alarms.test_api import batch, event, post, put, steps
from tests.world import NOW


def test_alarms_come_by_facility_oldest_first_with_all_that_judging_needs(site, foreign):
    late = raised(site, "SN1")
    deliver(site, report(occurred_at=NOW - minutes(30)))
    theirs = raised(foreign, "x")
    found = alarms_of([site.pk, foreign.pk])

    early = found[site.pk][0]
    assert found[site.pk][1:] == [late]
    assert found[foreign.pk] == [theirs]
    assert (early.component.tag, early.condition, early.condition_class) == (
        "SU1",
        "sump-liquid",
        "unusual operating condition",
    )
    assert (early.raised_at, early.discovered_at, early.cleared_at) == (NOW - minutes(30), None, None)


def test_facilities_that_were_not_asked_for_are_left_out(site, foreign):
    raised(foreign, "x")

    assert alarms_of([site.pk]) == {}


def test_reading_many_facilities_is_one_query(owner, django_assert_num_queries):
    sites = [world.facility(owner, f"S{number}") for number in range(5)]
    for one in sites:
        raised(one, "x")
        raised(one, "y")

    with django_assert_num_queries(1):
        found = alarms_of([one.pk for one in sites])
        assert sum(len([alarm.place for alarm in alarms]) for alarms in found.values()) == 10


def test_doorways_wake_the_sender_and_services_do_not(own, owner_client, django_capture_on_commit_callbacks):
    """After commit only, so that the worker finds what it was woken for."""
    with django_capture_on_commit_callbacks() as by_services:
        raised(own, "x")
        escalate_due(now=NOW, limit=10)
    with django_capture_on_commit_callbacks() as by_events:
        post(owner_client, f"facilities/{own.pk}/events", batch(event()))
    with django_capture_on_commit_callbacks() as by_call_list:
        put(owner_client, f"facilities/{own.pk}/call-list", steps())

    woken = [
        [getclosurevars(one).nonlocals["task"] for one in callbacks]
        for callbacks in (by_services, by_events, by_call_list)
    ]
    assert [tasks.count(tell) for tasks in woken] == [0, 1, 1]

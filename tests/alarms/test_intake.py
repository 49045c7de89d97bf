"""Taking in events. What is kept and refused is our own promise; the five minutes of skew: `equipment.moments`."""

from datetime import date

import pytest

from alarms.models import Alarm, Event
from alarms.services.answering import acknowledge
from equipment.faults import Invalid
from equipment.models import Facility, PipingRun, Sensor, Tank
from tests import world
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW


def version(facility: Facility) -> int:
    return Facility.objects.get(pk=facility.pk).facts_version


def test_a_raise_opens_an_alarm_at_the_component(site):
    intake = deliver(site, report(occurred_at=NOW - minutes(3)))

    alarm = Alarm.objects.get()
    assert (intake.accepted, intake.opened, intake.remarks) == (1, [alarm.pk], [])
    assert (alarm.component.tag, alarm.state, alarm.device) == ("SU1", "unacknowledged", "")
    assert (alarm.raised_at, alarm.opened_at, alarm.next_step_at) == (NOW - minutes(3), NOW, NOW)
    assert (alarm.condition_class, alarm.priority) == ("unusual operating condition", "medium")


def test_liquid_where_the_sensor_is_the_method_is_a_monitoring_result(site):
    """40 CFR 280.50(c): a result of the release-detection method; SN1 is used for it, SU1 is not."""
    deliver(site, report("SN1"), report("SU1"))

    classes = {one.component.tag: one.condition_class for one in Alarm.objects.select_related("component")}
    assert classes == {"SN1": "monitoring result", "SU1": "unusual operating condition"}


@pytest.mark.parametrize(
    ("device", "condition"),
    [("T1", "tank-interstice-liquid"), ("P1", "piping-interstice-liquid"), ("SN1", "sump-fuel")],
)
def test_liquid_between_the_walls_is_an_unusual_condition_unless_they_are_the_method(site, device, condition):
    """40 CFR 280.50(b) names liquid in the interstice; (c) results of the method that 280.41 and 280.42 require."""
    Sensor.objects.update(used_for_release_detection=None)
    assert raised(site, device, condition).condition_class == "unusual operating condition"

    Tank.objects.update(release_detection=["automatic tank gauging", "interstitial monitoring"])
    PipingRun.objects.update(release_detection=["interstitial monitoring"])
    Sensor.objects.update(used_for_release_detection=True)
    other = {"T1": "piping-interstice-liquid", "P1": "tank-interstice-liquid", "SN1": "sump-liquid"}[device]
    assert raised(site, device, other).condition_class == "monitoring result"


def test_opening_and_clearing_are_facts_and_repeats_are_not(site):
    before = version(site)
    deliver(site, report())
    opened = version(site)
    deliver(site, report(occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    joined = version(site)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(2)), now=NOW + minutes(2))

    assert (opened, joined, version(site)) == (before + 1, before + 1, before + 2)


def test_the_same_batch_again_changes_nothing(site):
    batch = [report(), report(signal="cleared", occurred_at=NOW + minutes(1)), report("P1", "line-test-fail")]
    first = deliver(site, *batch)
    facts = version(site)
    again = deliver(site, *batch, now=NOW + minutes(60))

    assert (first.accepted, first.repeated, again.accepted, again.repeated) == (3, 0, 0, 3)
    assert (Event.objects.count(), Alarm.objects.count(), version(site)) == (3, 2, facts)


def test_a_message_twice_in_one_batch_counts_once(site):
    one = report()
    intake = deliver(site, one, one)

    assert (intake.accepted, intake.repeated) == (1, 1)
    assert Alarm.objects.get().occurrences == 1


def test_a_time_too_far_ahead_is_kept_as_sent_and_counts_at_its_receipt(site):
    intake = deliver(site, report("SN1"), report(occurred_at=NOW + minutes(5.1)))

    event, alarm = Event.objects.get(device="SU1"), Alarm.objects.get(component__tag="SU1")
    assert [(fault.pointer, fault.code) for fault in intake.remarks] == [("/events/1/occurred_at", "future")]
    assert (event.occurred_at, event.counts_at, alarm.raised_at) == (NOW + minutes(5.1), NOW, NOW)
    assert "lies in the future" in event.remark


def test_five_minutes_ahead_is_a_clock_a_little_fast(site):
    assert deliver(site, report(occurred_at=NOW + minutes(5))).accepted == 1


@pytest.mark.parametrize("number", [0, 1001])
def test_a_batch_has_one_to_a_thousand_events(site, number):
    with pytest.raises(Invalid, match="Nothing was stored"):
        deliver(site, *(report() for _ in range(number)))


def test_a_thousand_events_are_taken_in_at_once(site):
    intake = deliver(site, *(report(f"device {n % 50}") for n in range(1000)))

    assert (intake.accepted, len(intake.opened), len(intake.joined)) == (1000, 50, 50)
    assert Event.objects.count() == 1000


def test_a_device_that_is_not_registered_still_raises_an_alarm(site):
    intake = deliver(site, report("Sump  9", "sump-fuel"), report("Sump 9", "sump-fuel"))

    alarm = Alarm.objects.get()
    assert (alarm.component, alarm.device, alarm.occurrences) == (None, "Sump 9", 2)
    assert [fault.code for fault in intake.remarks] == ["unknown-device"] * 2
    assert "no component here goes by 'Sump 9'" in Event.objects.first().remark


def test_a_condition_that_is_not_in_the_catalogue_still_raises_an_alarm(site):
    intake = deliver(site, report(condition="odd-noise"))

    alarm = Alarm.objects.get()
    assert (alarm.condition, alarm.condition_class, alarm.priority) == ("odd-noise", None, "high")
    assert [fault.code for fault in intake.remarks] == ["unlisted-condition"]


@pytest.mark.parametrize(
    ("tag", "parent", "condition", "odd"),
    [
        ("SN7", "SU1", "tank-test-fail", True),
        ("SN7", "T1", "tank-test-fail", False),
        ("SN7", None, "tank-test-fail", False),
        ("SN7", "SU1", "sump-liquid", False),
        ("SN7", "SU1", "sensor-fault", False),
        ("T1", None, "sump-liquid", True),
        ("P1", None, "line-leak-3-gph", False),
    ],
)
def test_what_a_place_cannot_report_is_taken_in_and_remarked_on(site, tag, parent, condition, odd):
    """A tank is tested in a tank, and a sump is wet in a sump (common practice, no source)."""
    if tag == "SN7":
        world.component(site, "sensor", tag, parent=parent)

    intake = deliver(site, report(tag, condition))

    assert [fault.code for fault in intake.remarks] == (["odd-place"] if odd else [])
    assert len(intake.opened) == 1


def test_the_remark_names_both_places(site):
    world.component(site, "sensor", "SN7", parent="SU1")

    [remark] = deliver(site, report("SN7", "tank-test-fail")).remarks

    assert remark.pointer == "/events/0/condition"
    assert "tank system or tank or compartment" in remark.detail
    assert "comes from a containment sump" in remark.detail


def test_an_event_without_device_is_about_the_whole_facility(site):
    intake = deliver(site, report("", "power-lost"))

    assert intake.remarks == []
    assert Alarm.objects.get().place == "the whole facility"


def test_a_component_that_was_taken_out_is_remarked_on(site):
    site.components.filter(tag="SU1").update(removed_on=date(2025, 1, 1))
    intake = deliver(site, report())

    assert [fault.code for fault in intake.remarks] == ["removed-device"]
    assert len(intake.opened) == 1


def test_a_clear_without_a_raise_is_kept(site):
    intake = deliver(site, report(signal="cleared"))

    assert (intake.accepted, intake.cleared) == (1, [])
    assert "no raise of it is known" in Event.objects.get().remark


def test_a_raise_that_comes_after_its_clear_still_tells_people(site):
    deliver(site, report(signal="cleared", occurred_at=NOW))
    deliver(site, report(occurred_at=NOW - minutes(5)), now=NOW + minutes(1))

    alarm = Alarm.objects.get()
    assert (alarm.state, alarm.cleared_at) == ("returned-unacknowledged", NOW)
    assert alarm.next_step_at is not None


def test_events_of_a_batch_count_in_the_order_of_their_moments(site):
    intake = deliver(site, report(signal="cleared", occurred_at=NOW), report(occurred_at=NOW - minutes(5)))

    assert (len(intake.opened), len(intake.cleared)) == (1, 1)
    assert Alarm.objects.get().state == "returned-unacknowledged"


def test_the_clear_of_an_answered_alarm_ends_it_and_the_next_raise_opens_another(site):
    alarm = raised(site)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    intake = deliver(site, report(occurred_at=NOW + minutes(2)), now=NOW + minutes(2))

    alarm.refresh_from_db()
    assert (alarm.state, alarm.cleared_at) == ("normal", NOW + minutes(1))
    assert intake.opened not in ([], [alarm.pk])


def test_a_clear_that_was_lost_does_not_swallow_the_next_alarm(site):
    alarm = raised(site)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)
    later = NOW + minutes(60 * 25)
    intake = deliver(site, report(occurred_at=later), now=later)

    alarm.refresh_from_db()
    assert (alarm.state, alarm.cleared_at) == ("normal", None)
    assert Alarm.objects.get(pk=intake.opened[0]).state == "unacknowledged"


def test_events_of_another_facility_stay_apart(site, foreign):
    world.line(foreign)
    deliver(site, report(id="1"))
    deliver(foreign, report(id="1"))

    assert {one.facility_id: one.occurrences for one in Alarm.objects.all()} == {site.pk: 1, foreign.pk: 1}


def test_the_number_of_queries_does_not_depend_on_the_number_of_events(
    site, django_assert_num_queries, django_assert_max_num_queries
):
    few = [report(f"device {n}") for n in range(2)]
    many = [report(f"other {n}") for n in range(20)]  # all in one statement: SQLite takes 999 values

    with django_assert_max_num_queries(20) as spent:
        deliver(site, *few)
    with django_assert_num_queries(len(spent)):
        deliver(site, *many)


def test_that_a_further_organisation_hears_of_an_alarm_is_a_fact_and_is_judged(site, contractor):
    """Where each party that knew has a clock of its own, as New York's two hours: 6 NYCRR 613-2.4(b)(1)."""
    deliver(site, report())
    opened = version(site)
    deliver(site, report(occurred_at=NOW + minutes(1)), now=NOW + minutes(1), by=contractor)
    heard = version(site)
    deliver(site, report(occurred_at=NOW + minutes(2)), now=NOW + minutes(2), by=contractor)

    assert (heard, version(site)) == (opened + 1, opened + 1)

"""Device clocks that cannot be believed. The 30 days of a late message and who counts last when clocks are in doubt:
common practice, no source. The 24 hours: 40 CFR 280.50, read from the receipt as the discovery."""

from datetime import UTC, date, datetime, timedelta

import pytest

from alarms.conditions import FILE, ConditionsError, load_plausible_delay, plausible_delay
from alarms.matching import Stamp, stamped
from alarms.models import Alarm, Event
from alarms.queries import alarms_of
from alarms.services.answering import acknowledge
from tests import world
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW

RESET = datetime(1970, 1, 1, tzinfo=UTC)
DAY = timedelta(days=1)
LATER = NOW + minutes(60)


def codes(intake) -> list[str]:
    return [fault.code for fault in intake.remarks]


def test_a_clock_that_was_reset_leaves_the_beginning_of_an_open_alarm_alone(site):
    alarm = raised(site)
    intake = deliver(site, report(occurred_at=RESET), now=LATER)

    alarm.refresh_from_db()
    assert (alarm.raised_at, alarm.last_raised_at, alarm.occurrences) == (NOW, LATER, 2)
    assert codes(intake) == ["doubtful-clock"]
    assert intake.remarks[0].pointer == "/events/0/occurred_at"


def test_an_alarm_of_a_reset_clock_is_timed_by_its_receipt_and_the_message_kept_as_sent(site):
    deliver(site, report(occurred_at=RESET))

    event, alarm = Event.objects.get(), Alarm.objects.get()
    assert (alarm.raised_at, event.occurred_at, event.counts_at) == (NOW, RESET, NOW)
    assert event.clock_doubtful
    assert event.remark.startswith("device clock doubtful")


@pytest.mark.parametrize(
    ("before", "doubtful"), [(30 * DAY, False), (30 * DAY + timedelta(seconds=1), True)], ids=str
)
def test_a_message_may_be_thirty_days_late_and_no_more(site, before, doubtful):
    deliver(site, report(occurred_at=NOW - before))

    assert Event.objects.get().clock_doubtful is doubtful
    assert Alarm.objects.get().raised_at == (NOW if doubtful else NOW - before)


def test_a_gateway_that_was_offline_for_two_days_counts_with_its_own_time(site):
    alarm = raised(site)
    deliver(site, report(occurred_at=NOW - 2 * DAY), now=LATER)

    alarm.refresh_from_db()
    assert alarm.raised_at == NOW - 2 * DAY


def test_a_beginning_that_moves_back_is_remarked_on(site):
    raised(site)
    intake = deliver(site, report(occurred_at=NOW - minutes(1)), now=LATER)

    (remark,) = intake.remarks
    assert "moves the beginning of its alarm back" in remark.detail
    assert (NOW - minutes(1)).isoformat() in Event.objects.latest("pk").remark


def test_a_repeat_within_its_alarm_is_not_remarked_on(site):
    raised(site)

    assert deliver(site, report(occurred_at=LATER), now=LATER).remarks == []


def test_nothing_was_reported_before_the_component_was_installed(site):
    """The facility's own day counts: New York is five hours behind UTC in March."""
    site.components.filter(tag="SU1").update(installed_on=date(2026, 3, 3))
    first = datetime(2026, 3, 3, 5, 0, tzinfo=UTC)
    deliver(site, report(id="on the day", occurred_at=first))
    deliver(site, report(id="before", occurred_at=first - minutes(1)))

    assert {one.source_event_id: one.clock_doubtful for one in Event.objects.all()} == {
        "on the day": False,
        "before": True,
    }


@pytest.mark.parametrize("device", ["", "Sump 9"])
def test_nothing_was_reported_before_the_first_component_of_the_facility(own, device):
    world.component(own, "tank_system", "S1", installed_on=date(2026, 3, 1))
    world.component(own, "tank", "T1", parent="S1", installed_on=date(2026, 3, 3))
    deliver(own, report(device, occurred_at=NOW - 2 * DAY), report(device, occurred_at=NOW - 4 * DAY))

    assert sorted(Event.objects.values_list("occurred_at", "clock_doubtful")) == [
        (NOW - 4 * DAY, True),
        (NOW - 2 * DAY, False),
    ]


def test_a_facility_with_a_component_of_unknown_day_has_no_known_first_day(own):
    world.component(own, "tank_system", "S1", installed_on=date(2026, 3, 3))
    world.component(own, "tank", "T1", parent="S1")
    deliver(own, report("", occurred_at=NOW - 4 * DAY))

    assert not Event.objects.get().clock_doubtful


def test_where_clocks_are_in_doubt_a_raise_counts_after_a_clear(site):
    """Which came first is not known; that an answered alarm ends and nobody hears of the next would be worse."""
    alarm = raised(site)
    acknowledge(alarm=alarm, by="Ann", note=None, now=NOW)
    raise_, clear = report(occurred_at=RESET), report(signal="cleared", occurred_at=RESET + minutes(5))
    intake = deliver(site, raise_, clear, now=LATER)

    assert (intake.cleared, len(intake.opened)) == ([alarm.pk], 1)
    assert Alarm.objects.get(pk=intake.opened[0]).state == "unacknowledged"


def test_a_clear_in_doubt_that_came_before_its_raise_ends_nothing_later(site):
    deliver(site, report(signal="cleared", occurred_at=RESET), now=NOW)
    deliver(site, report(occurred_at=LATER), now=LATER)

    assert Alarm.objects.get().state == "unacknowledged"


def test_a_clear_in_doubt_ends_a_raise_that_arrives_after_it_and_happened_before(site):
    deliver(site, report(signal="cleared", occurred_at=RESET), now=NOW)
    deliver(site, report(occurred_at=NOW - minutes(5)), now=LATER)

    assert Alarm.objects.get().cleared_at == NOW


def test_the_alarm_as_it_was_known_earlier_is_timed_by_the_receipt_too(site):
    deliver(site, report(occurred_at=RESET), now=NOW)
    deliver(site, report(occurred_at=NOW - DAY), now=LATER)

    (then,), (today,) = alarms_of([site.pk], known_at=NOW)[site.pk], alarms_of([site.pk])[site.pk]
    assert (then.raised_at, today.raised_at) == (NOW, NOW - DAY)


def test_a_believable_clock_counts_and_a_doubtful_one_does_not():
    place = {
        "received_at": NOW,
        "delay": 30 * DAY,
        "ahead": minutes(5),
        "zone": UTC,
        "first_day": None,
    }

    assert stamped(NOW - DAY, **place) == Stamp(NOW - DAY)
    assert stamped(RESET, **place) == Stamp(NOW, "more than 30 days before it reached us")
    assert stamped(NOW + minutes(5), **place) == Stamp(NOW + minutes(5))
    assert stamped(NOW + minutes(6), **place) == Stamp(NOW, "lies in the future")


def test_the_plausible_delay_stands_in_the_data():
    assert load_plausible_delay(FILE) == plausible_delay() == 30 * DAY


@pytest.mark.parametrize(
    "wrong", ["", "[events]\nplausible_delay_days = 0", "[events]\nplausible_delay = 3"], ids=repr
)
def test_a_file_without_a_plausible_delay_is_refused_with_the_place(tmp_path, wrong):
    path = tmp_path / "conditions.toml"
    path.write_text(wrong)

    with pytest.raises(ConditionsError, match=r"conditions\.toml: \[events\]"):
        load_plausible_delay(path)

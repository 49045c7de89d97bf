"""Figures over what is on file: our own definitions, stated in the answer's description, worked out here by hand."""

import csv
from datetime import UTC, datetime, timedelta
from random import Random

import numpy as np
import pytest
import time_machine

from alarms.lifecycle import State
from alarms.models import Alarm, AlarmStep, Disposition
from alarms.services.answering import acknowledge
from alarms.services.figures import figures_at
from alarms.services.running_out import end_shelving_due
from alarms.services.shelving import shelve
from alarms.spans import Span
from equipment.models import Facility
from equipment.moments import read_moment
from tests import world
from tests.alarms.exercises import END, inside, plan, signal
from tests.alarms.sites import deliver, minutes, raised, report
from tests.alarms.test_api import get, pointers
from tests.conftest import client_of
from tests.world import NOW

DAY = timedelta(days=1)
LATER = NOW + 2 * DAY


def found(first: str, until: str | None = None, *, now: datetime = LATER, **windows):
    span = Span(first=read_moment(first), until=read_moment(until) if until else None, now=now)
    return figures_at(Facility.objects.all(), span, **windows)


def answer(alarm: Alarm, after: timedelta) -> None:
    acknowledge(alarm=alarm, by="Ann", note=None, now=alarm.opened_at + after)


def dispose(alarm: Alarm, at: datetime, **stated) -> Disposition:
    """An answer on file, whatever its type asks for: figures only read when it holds."""
    return Disposition.objects.create(
        facility=alarm.facility,
        submitted_by=alarm.facility.operator,
        recorded_at=at,
        recorded_by="Ann",
        alarm=alarm,
        type="non-release event",
        at=at,
        **stated,
    )


def step_of(alarm: Alarm, kind: str, after: timedelta, *, until: datetime | None = None) -> None:
    """A step on file."""
    at = alarm.opened_at + after
    stated = {"at": at, "through": at, "by": "Ann", "note": "being worked on", "until": until}
    AlarmStep.objects.create(facility=alarm.facility, alarm=alarm, kind=kind, **stated)


def ask(client, path: str = "alarms/figures", *, at: datetime = LATER, **asked):
    with time_machine.travel(at, tick=False):
        return get(client, path, **asked)


def test_a_month_is_counted(site):
    first = raised(site, "SU1")
    deliver(site, report("SN1", "sensor-fault", occurred_at=NOW - minutes(30)))
    second = Alarm.objects.latest("pk")
    third = raised(site, "T1", "low-product", now=NOW + minutes(60))
    answer(first, minutes(4))
    answer(second, minutes(10))
    dispose(first, NOW + DAY)
    dispose(first, NOW + minutes(90))

    figures = found("2026-03-01").figures
    assert (figures.alarms, figures.raises, figures.without_disposition) == (3, 3, 2)
    opened, by_device = figures.acknowledgement.from_opened, figures.acknowledgement.from_raised
    assert (opened.answered, opened.waiting, opened.median_s, opened.p90_s) == (2, 1, 240, 600)
    assert (by_device.median_s, by_device.p90_s) == (240, 2400)
    assert (opened.longest_answered_alarm, opened.longest_waiting_alarm) == (second.pk, third.pk)
    assert figures.disposition.from_raised.median_s == 90 * 60
    assert figures.unacknowledged.longest_s == (LATER - third.opened_at).total_seconds()
    assert (figures.standing.alarms, figures.standing.stale, figures.standing.oldest_alarm) == (
        3,
        3,
        second.pk,
    )


def test_a_withdrawn_disposition_answers_nothing(site):
    alarm = raised(site)
    dispose(alarm, NOW, withdrawn_at=LATER, withdrawn_reason="wrong alarm", withdrawn_by="Ann")

    assert found("2026-03-01").figures.without_disposition == 1


def test_a_disposition_that_holds_from_before_the_alarm_reached_us_took_no_time(site):
    deliver(site, report(occurred_at=NOW - minutes(60)))
    dispose(Alarm.objects.get(), NOW - minutes(30))

    both = found("2026-03-01").figures.disposition
    assert (both.from_raised.median_s, both.from_opened.median_s) == (1800, 0)


def test_the_span_takes_its_first_instant_and_leaves_out_its_last(site):
    """Midnight in New York on 4 March is 05:00 UTC (EST, UTC-5)."""
    midnight = datetime(2026, 3, 4, 5, tzinfo=UTC)
    for number, moment in enumerate(
        [midnight - minutes(1), midnight, midnight + DAY - minutes(1), midnight + DAY]
    ):
        raised(site, f"probe {number}", now=moment)

    assert found("2026-03-04", "2026-03-05").figures.alarms == 2


def test_each_facility_has_days_of_its_own(owner):
    """20:30 UTC-8 on 3 March is already the 4th in New York."""
    at = datetime(2026, 3, 4, 5, 30, tzinfo=UTC)
    west = world.facility(owner, "W", time_zone="America/Los_Angeles")
    for one in (world.facility(owner, "E"), west):
        raised(one, "x", now=at)

    report_ = found("2026-03-04", "2026-03-05")
    assert report_.figures.alarms == 1
    assert [one.name for one in report_.facilities if one.figures.alarms] == ["Marina E"]
    assert [(one.time_zone, one.first_at.hour) for one in report_.spans] == [
        ("America/Los_Angeles", 8),
        ("America/New_York", 5),
    ]
    assert found("2026-03-03", "2026-03-04").figures.alarms == 1


def test_faults_of_equipment_are_counted_apart_from_what_may_be_a_release(site):
    raised(site, "SN1", "sensor-fault")
    leak = raised(site, "SU1", "sump-liquid")
    answer(leak, minutes(1))
    unlisted = raised(site, "T1", "a word of its own")

    classes = {one.condition_class: one for one in found("2026-03-01").classes}
    assert classes["equipment fault"].acknowledgement.waiting == 1
    assert classes[leak.condition_class].acknowledgement.median_s == 60
    assert unlisted.condition_class is None
    assert (classes[None].alarms, classes[None].without_disposition, classes[None].standing) == (1, 1, 1)
    assert classes["operating"].alarms == 0


@pytest.mark.parametrize(("condition", "episodes"), [("sensor-fault", 1), ("sump-liquid", 3)])
def test_what_comes_and_goes_is_one_bad_actor_with_a_count(site, condition, episodes):
    """Whether it is one alarm or several: one condition at one place."""
    for number in range(3):
        at = NOW + number * minutes(60)
        intake = deliver(site, report("SN1", condition, occurred_at=at), now=at)
        for opened in Alarm.objects.filter(pk__in=intake.opened):
            answer(opened, minutes(1))
        deliver(site, report("SN1", condition, "cleared", occurred_at=at + minutes(5)), now=at + minutes(5))
    raised(site, "SU1", now=NOW + minutes(200))

    worst, other = found("2026-03-01").bad_actors
    assert (worst.component, worst.raises, worst.episodes) == ("SN1", 3, episodes)
    assert (other.component, other.raises) == ("SU1", 1)


def test_a_past_span_tells_what_stood_at_its_end(site):
    alarm = raised(site)
    answer(alarm, minutes(1))
    deliver(site, report(signal="cleared", occurred_at=NOW + 5 * DAY), now=NOW + 5 * DAY)

    then = found("2026-03-01", "2026-03-07", now=NOW + 9 * DAY).figures.standing
    now = found("2026-03-01", "2026-03-12", now=NOW + 9 * DAY).figures.standing
    assert (then.alarms, then.stale, now.alarms) == (1, 1, 0)


def test_a_flood_at_one_facility_is_told_with_its_place(site, foreign):
    for second in range(11):
        raised(site, f"probe {second}", now=NOW + second * timedelta(seconds=50))
        raised(foreign, f"probe {second}", now=NOW + second * timedelta(seconds=70))

    figures = found("2026-03-01").figures
    assert figures.peak is not None
    assert (figures.peak.facility, figures.peak.raises, figures.peak.flood) == (site.pk, 11, True)
    assert figures.floods == 1


def test_random_alarms_have_the_percentiles_of_numpy(site):
    """NumPy's `inverted_cdf`: the nearest rank (Hyndman and Fan 1996, type 1)."""
    random, took, held = Random(11), [], []
    for number in range(40):
        alarm = raised(site, f"probe {number}", now=NOW + minutes(number))
        if number % 5:
            took.append(random.uniform(1, 90_000))
            answer(alarm, timedelta(seconds=took[-1]))
        if number % 3:
            held.append(random.uniform(1, 90_000))
            dispose(alarm, alarm.raised_at + timedelta(seconds=held[-1]))

    figures = found("2026-03-01").figures
    acknowledged, disposed = figures.acknowledgement.from_opened, figures.disposition.from_raised
    for percent, name in ((50, "median_s"), (90, "p90_s")):
        for values, waits in ((took, acknowledged), (held, disposed)):
            exact = np.percentile(values, percent, method="inverted_cdf")
            assert getattr(waits, name) == pytest.approx(exact, abs=1e-5)
    assert (acknowledged.waiting, disposed.waiting) == (40 - len(took), 40 - len(held))


def test_what_was_said_of_an_alarm_counts_for_the_one_that_it_merged_into(site):
    """A late message showed that two alarms were one: it is counted once, with the answers to both."""
    first = raised(site, "SU1")
    other = raised(site, "SN1", now=NOW + minutes(5))
    answer(other, minutes(5))
    dispose(other, NOW + minutes(30))
    Alarm.objects.filter(pk=other.pk).update(
        merged_into=first, merged_at=LATER, state=State.NORMAL, acknowledged_at=None, acknowledged_by=None
    )

    figures = found("2026-03-01").figures
    assert (figures.alarms, figures.standing.alarms) == (1, 1)
    assert figures.acknowledgement.from_raised.median_s == 600
    assert figures.disposition.from_raised.median_s == 1800


def test_an_alarm_that_came_back_is_counted_with_its_first_answer(site):
    """Shelving counts as an answer; what comes back waits again, which takes nothing from how fast it was seen."""
    alarm = raised(site)
    step_of(alarm, "shelve", minutes(3), until=NOW + DAY)

    waits = found("2026-03-01").figures.acknowledgement.from_opened
    assert (waits.answered, waits.median_s) == (1, 180)
    assert found("2026-03-01").figures.unacknowledged.alarms == 1


def test_exercises_are_counted_and_in_no_other_figure(site):
    """Common practice, no source: how people drill says nothing of how they answer."""
    plan(site, "SN1")
    signal(site, "raised", inside(5))
    real = raised(site, "SU1", now=inside(6))
    assert Alarm.objects.exclude(exercise=None).count() == 1

    report_ = found("2026-03-01")
    figures = report_.figures
    assert (figures.alarms, figures.exercises, figures.raises, figures.standing.alarms) == (1, 1, 1, 1)
    assert figures.acknowledgement.from_opened.longest_waiting_alarm == real.pk
    assert figures.unacknowledged.alarms == 1
    assert [actor.component for actor in report_.bad_actors] == ["SU1"]


def test_an_exercise_that_turned_out_to_be_real_is_counted(site):
    plan(site, "SN1")
    signal(site, "raised", inside(5))
    Alarm.objects.update(stood_on_at=END)

    figures = found("2026-03-01").figures
    assert (figures.alarms, figures.exercises, figures.raises) == (1, 0, 1)


def test_an_alarm_whose_clear_was_lost_stands_until_it_was_raised_anew(site):
    """Then it is over, and what is raised is an alarm of its own. Common practice, no source."""
    lost = raised(site)
    answer(lost, minutes(5))
    anew = raised(site, now=NOW + 2 * DAY)
    then = found("2026-03-01", "2026-03-06", now=NOW + 2.5 * DAY).figures.standing
    after = found("2026-03-01", now=NOW + 2.5 * DAY).figures.standing

    assert (then.alarms, then.stale, then.oldest_alarm) == (1, 1, lost.pk)
    assert (after.alarms, after.stale, after.oldest_alarm) == (1, 0, anew.pk)


def test_what_came_back_waits_from_then_on(site):
    """Shelved at once: nobody waited for an answer before it came back."""
    alarm = shelve(alarm=raised(site), by="Ann", reason="dry", until=NOW + minutes(60), now=NOW)
    end_shelving_due(now=NOW + minutes(60), limit=1)
    other = raised(site, "SN1", now=NOW + minutes(20))

    waits = found("2026-03-01").figures.unacknowledged
    assert (waits.alarms, waits.alarm, waits.longest_s) == (
        2,
        other.pk,
        (LATER - NOW - minutes(20)).total_seconds(),
    )
    acknowledge(alarm=other, by="Ann", note=None, now=LATER)
    waits = found("2026-03-01").figures.unacknowledged
    assert (waits.alarm, waits.longest_s) == (alarm.pk, (LATER - NOW - minutes(60)).total_seconds())


def test_what_is_kept_quiet_is_listed_with_who_and_why(site, owner_client):
    shelved, taken_out = raised(site, "SU1"), raised(site, "SN1")
    step_of(shelved, "shelve", minutes(3), until=LATER + DAY)
    step_of(taken_out, "take out of service", minutes(4))
    quiet = {"acknowledged_at": NOW + minutes(4), "acknowledged_by": "Ann"}
    Alarm.objects.filter(pk=shelved.pk).update(state=State.SHELVED, shelved_until=LATER + DAY, **quiet)
    Alarm.objects.filter(pk=taken_out.pk).update(state=State.OUT_OF_SERVICE, **quiet)

    body = ask(owner_client).json()
    [quiet_one], [out] = body["shelved"], body["out_of_service"]
    assert (quiet_one["id"], quiet_one["by"], quiet_one["reason"]) == (shelved.pk, "Ann", "being worked on")
    assert (quiet_one["since"], quiet_one["until"]) == ("2026-03-04T15:03:00Z", "2026-03-07T15:00:00Z")
    assert (out["id"], out["since"], out["until"]) == (taken_out.pk, "2026-03-04T15:04:00Z", None)


def test_sliding_windows_overlap_and_take_in_what_came_before_the_span(site):
    for number in range(4):
        raised(site, f"probe {number}", now=NOW + number * DAY)

    windows = found("2026-03-05", "2026-03-08", now=NOW + 9 * DAY, window_days=7, step_days=1).windows
    assert [(str(one.until), one.alarms, one.raises) for one in windows] == [
        ("2026-03-05", 1, 1),
        ("2026-03-06", 2, 2),
        ("2026-03-07", 3, 3),
        ("2026-03-08", 4, 4),
    ]


def test_the_number_of_queries_does_not_grow(owner, django_assert_num_queries):
    for number in range(4):
        one = world.facility(owner, f"S{number}")
        for device in range(number + 1):
            raised(one, f"probe {device}")

    with django_assert_num_queries(8):
        assert found("2026-03-01", window_days=7).figures.alarms == 10


def test_the_answer_shows_every_figure_and_a_share(site, owner_client):
    raised(site, "SU1")
    raised(site, "SN1", "sensor-fault")

    body = ask(owner_client, **{"from": "2026-03-01", "window": "7d"}).json()
    assert body["figures"]["alarms"] == 2
    assert [one["share"] for one in body["bad_actors"]] == [0.5, 0.5]
    assert body["facilities"][0]["name"] == site.name
    assert body["windows"][-1]["until"] == "2026-03-06"


def test_figures_are_of_what_the_caller_may_see(site, foreign, owner_client):
    raised(foreign, "x")

    assert ask(owner_client).json()["figures"]["alarms"] == 0
    assert ask(owner_client, facility=foreign.pk).status_code == 404
    assert ask(owner_client, facility=site.pk).status_code == 200


def test_somebody_without_any_facility_reads_zeros(db):
    client = client_of(world.organisation("New Marinas"))

    body = ask(client).json()
    assert (body["figures"]["alarms"], body["facilities"], body["figures"]["peak"]) == (0, [], None)


@pytest.mark.parametrize(
    ("asked", "place"),
    [
        ({"from": "2026-03-05", "until": "2026-03-04"}, "/from"),
        ({"from": "yesterday"}, "/from"),
        ({"until": "2026-03-04T10:00:00"}, "/until"),
        ({"step": 2}, "/step"),
        ({"window": "8d"}, "/window"),
        ({"window": "7d", "from": "2024-06-01"}, "/step"),
        ({"facility": 0}, "/facility"),
        ({"form": "csv"}, "/form"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_its_place(site, owner_client, asked, place):
    refused = ask(owner_client, **asked)

    assert (refused.status_code, pointers(refused)) == (422, [place])


def test_the_table_says_the_same_as_the_answer(site, owner, owner_client):
    other = world.facility(owner, "B", name='=HYPERLINK("http://x")')
    answer(raised(site, "SU1"), minutes(7))
    raised(other, "x")

    table = ask(owner_client, "alarms/figures.csv")
    body = ask(owner_client).json()
    whole, *rows = csv.DictReader(table.content.decode().splitlines())
    assert table.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert (int(whole["alarms"]), whole["acknowledgement_from_opened_median_s"]) == (2, "420.0")
    assert [(int(row["facility"]), int(row["alarms"])) for row in rows] == [
        (one["facility"], one["figures"]["alarms"]) for one in body["facilities"]
    ]
    assert {row["name"] for row in rows} == {site.name, '\'=HYPERLINK("http://x")'}


def test_the_table_of_windows_has_a_line_for_each(site, owner_client):
    raised(site)

    table = ask(owner_client, "alarms/figures.csv", window="7d", **{"from": "2026-03-04"})
    rows = list(csv.DictReader(table.content.decode().splitlines()))
    assert [(row["until"], row["alarms"]) for row in rows] == [
        ("2026-03-04", "0"),
        ("2026-03-05", "1"),
        ("2026-03-06", "1"),
    ]

"""Every federal duty that an event starts: when it is due, the last moment in time, and the first one too late.

Due moments are written out by hand from the clock that the paragraph beside each duty states. Months are calendar
months and hours elapsed ones, both plain readings; the hours are counted over the two nights on which clocks change.
"""

from datetime import date, datetime, timedelta

import pytest

from tests.compliance.rulepacks.events import EVENT_DUTIES, event_duty
from tests.compliance.rulepacks.federal import ZONE, finding, lacks, standing

DAY_CLOCKS = {
    "7 days": [("2025-03-10", "2025-03-17"), ("2024-02-29", "2024-03-07")],
    "10 days": [("2025-03-10", "2025-03-20"), ("2024-02-19", "2024-02-29")],
    "20 days": [("2025-03-10", "2025-03-30"), ("2024-02-09", "2024-02-29")],
    "30 days": [("2025-03-10", "2025-04-09"), ("2025-01-31", "2025-03-02"), ("2024-01-30", "2024-02-29")],
    "45 days": [("2025-03-10", "2025-04-24"), ("2024-01-15", "2024-02-29")],
    "60 days": [("2025-03-10", "2025-05-09"), ("2025-01-31", "2025-04-01")],
    "3 months": [("2025-03-10", "2025-06-10"), ("2024-11-30", "2025-02-28"), ("2023-11-30", "2024-02-29")],
    "6 months": [("2025-03-10", "2025-09-10"), ("2025-08-31", "2026-02-28"), ("2023-08-31", "2024-02-29")],
    "12 months": [("2024-03-10", "2025-03-10"), ("2024-02-29", "2025-02-28")],
    "30 days before": [("2025-03-31", "2025-03-01"), ("2024-03-30", "2024-02-29")],
    "on the day": [("2025-03-10", "2025-03-10"), ("2024-02-29", "2024-02-29")],
}
"""Day of the event and last day in time."""

NIGHTS = [("2025-03-08T22:00", "2025-03-09T23:00"), ("2025-11-01T22:00", "2025-11-02T21:00")]
"""24 elapsed hours over the clock changes of 9 March and 2 November 2025 in New York."""

BY_DAY = [
    pytest.param(duty, at, due, id=f"{duty}-{at}")
    for duty in EVENT_DUTIES
    for at, due in DAY_CLOCKS.get(duty.clock, [])
]
BY_HOUR = [
    pytest.param(duty, at, due, id=f"{duty}-{at}")
    for duty in EVENT_DUTIES
    if duty.clock == "24 hours"
    for at, due in NIGHTS
]


def shifted(day: str, days: int) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def minute_after(instant: str) -> str:
    return (datetime.fromisoformat(instant) + timedelta(minutes=1)).isoformat(timespec="minutes")


@pytest.mark.parametrize(("duty", "at", "due"), BY_DAY)
def test_unanswered_it_is_open_through_the_last_day(duty, at, due):
    found = finding(duty.document(at), duty.rule, duty.about, due)

    assert (found.standing, found.due) == ("due soon", date.fromisoformat(due))


@pytest.mark.parametrize(("duty", "at", "due"), BY_DAY)
def test_unanswered_it_is_overdue_from_the_day_after(duty, at, due):
    found = finding(duty.document(at), duty.rule, duty.about, shifted(due, 1))

    assert (found.standing, found.days_late) == ("overdue", 1)


@pytest.mark.parametrize(("duty", "at", "due"), BY_DAY)
def test_an_answer_on_the_last_day_is_in_time(duty, at, due):
    found = finding(duty.document(at, due), duty.rule, duty.about, shifted(due, 1))

    assert (found.standing, found.late_intervals) == ("met", [])


@pytest.mark.parametrize(("duty", "at", "due"), BY_DAY)
def test_a_late_answer_meets_it_and_leaves_the_delay_on_record(duty, at, due):
    late = shifted(due, 10)
    found = finding(duty.document(at, late), duty.rule, duty.about, late)

    assert found.standing == "met"
    assert [interval.days_late for interval in found.late_intervals] == [10]


@pytest.mark.parametrize(("duty", "at", "due"), BY_HOUR)
def test_hours_are_elapsed_ones_and_the_very_instant_is_in_time(duty, at, due):
    found = finding(duty.document(at), duty.rule, duty.about, due)

    assert found.due == datetime.fromisoformat(due).replace(tzinfo=ZONE)
    assert found.standing == "due soon"


@pytest.mark.parametrize(("duty", "at", "due"), BY_HOUR)
def test_a_minute_after_the_instant_it_is_overdue(duty, at, due):
    assert standing(duty.document(at), duty.rule, duty.about, minute_after(due)) == "overdue"


@pytest.mark.parametrize(("duty", "at", "due"), BY_HOUR)
def test_an_answer_within_the_hours_meets_it(duty, at, due):
    found = finding(duty.document(at, due), duty.rule, duty.about, minute_after(due))

    assert (found.standing, found.late_intervals) == ("met", [])


NOT_BEFORE_THE_EVENT = [
    duty
    for duty in EVENT_DUTIES
    if duty.clock not in ("30 days before", "on the day") and "train" not in duty.rule
]


@pytest.mark.parametrize("duty", NOT_BEFORE_THE_EVENT, ids=str)
def test_a_deed_of_the_day_before_answers_nothing(duty):
    """What is to show that the event was dealt with cannot lie before it."""
    at = "2025-03-10T10:00" if duty.clock == "24 hours" else "2025-03-10"
    before = "2025-03-09T10:00" if duty.clock == "24 hours" else "2025-03-09"

    assert standing(duty.document(at, before), duty.rule, duty.about, "2025-03-10T11:00") == "due soon"


@pytest.mark.parametrize("rule", ["train-a-b", "train-c", "closure-notice", "fuel-switch-notice"])
def test_these_may_be_done_well_ahead(rule):
    """40 CFR 280.243 and 280.32(b), 280.71(a): only a latest day is stated."""
    duty = event_duty(rule)

    assert standing(duty.document("2025-06-10", "2025-01-10"), rule, "E1", "2025-06-10") == "met"


FACTS = [
    ("retest-containment-after-repair", "used_for_interstitial_monitoring"),
    ("retest-tank-or-line-after-repair", "part"),
    ("cp-test-6-months", "installed_on"),
    ("temp-close-12-months", "meets_new_or_upgraded_standard"),
    ("new-ust-notice", "brought_into_use_on"),
    ("fr-new-tank-certify", "brought_into_use_on"),
    ("fr-alternate-after-cancel", "notice_received_on"),
    ("free-product-report", "free_product"),
    ("spill-report-petroleum", "gal_to_environment"),
    ("small-spill-cleanup", "gal_to_environment"),
    ("small-spill-cleanup", "sheen"),
    ("closure-notice", "planned_on"),
    ("fuel-switch-notice", "planned_on"),
    ("fuel-switch-notice", "to_ethanol_pct"),
    ("change-in-service", "planned_on"),
    ("train-a-b", "assumed_duties_on"),
    ("train-c", "assumed_duties_on"),
    ("retrain-a-b", "determined_on"),
    ("closure-contamination", "release_found"),
]


@pytest.mark.parametrize(("rule", "fact"), FACTS)
def test_a_fact_that_decides_and_that_nobody_stated_is_named(rule, fact):
    """Never "not required": an unknown fact takes no duty away."""
    duty = event_duty(rule)
    found = finding(duty.document("2025-03-10", without=fact), rule, duty.about, "2025-03-11")

    assert found.standing == "cannot decide"
    assert lacks(found, fact)

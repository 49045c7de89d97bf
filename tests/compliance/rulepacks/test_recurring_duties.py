"""Every recurring duty of the federal pack: the day before, the day itself, the day after; month ends and leap days.

Due dates are written out by hand from the interval that the paragraph beside each duty states. "At least every" rolls
from the last completion, and the last day is in time: plain readings of the text, which defines neither.
"""

from datetime import date, timedelta

import pytest

from tests.compliance.rulepacks.federal import closed, finding, lacks, standing
from tests.compliance.rulepacks.recurring import DUTIES, duty_of

CYCLES = {
    "7 days": [("2025-03-10", "2025-03-17"), ("2025-01-31", "2025-02-07"), ("2024-02-29", "2024-03-07")],
    "30 days": [("2025-03-10", "2025-04-09"), ("2025-01-31", "2025-03-02"), ("2024-01-30", "2024-02-29")],
    "60 days": [("2025-03-10", "2025-05-09"), ("2025-01-31", "2025-04-01"), ("2024-02-29", "2024-04-29")],
    "1 year": [("2024-03-10", "2025-03-10"), ("2024-01-31", "2025-01-31"), ("2024-02-29", "2025-02-28")],
    "3 years": [("2022-03-10", "2025-03-10"), ("2022-08-31", "2025-08-31"), ("2020-02-29", "2023-02-28")],
    "5 years": [("2020-03-10", "2025-03-10"), ("2020-08-31", "2025-08-31"), ("2016-02-29", "2021-02-28")],
}
"""Done and due: an ordinary day, a month end, and the 29th of February as start or end."""


TURNS = [
    pytest.param(duty, done, due, id=f"{duty}-{done}")
    for duty in DUTIES
    for done, due in CYCLES[duty.interval]
]
every_duty = pytest.mark.parametrize("duty", DUTIES, ids=str)


def shifted(day: str, days: int) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_the_next_one_is_due_one_interval_after_the_last(duty, done, due):
    document = duty.document(done)

    assert finding(document, duty.rule, duty.subject, done).due == date.fromisoformat(due)


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_the_day_before_and_the_day_itself_are_in_time(duty, done, due):
    document = duty.document(done)

    assert standing(document, duty.rule, duty.subject, shifted(due, -1)) in ("met", "due soon")
    assert standing(document, duty.rule, duty.subject, due) in ("met", "due soon")


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_the_day_after_is_one_day_late(duty, done, due):
    late = finding(duty.document(done), duty.rule, duty.subject, shifted(due, 1))

    assert (late.standing, late.days_late) == ("overdue", 1)


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_done_ten_days_late_leaves_one_late_interval(duty, done, due):
    again = shifted(due, 10)
    found = finding(duty.document(done, again), duty.rule, duty.subject, again)

    assert found.standing in ("met", "due soon")
    assert [(late.due, late.days_late) for late in found.late_intervals][-1:] == [
        (date.fromisoformat(due), 10)
    ]


@every_duty
def test_never_done_is_no_record_once_the_first_day_has_passed(duty):
    assert standing(duty.document(), duty.rule, duty.subject, "2025-07-01") == "no record"


@every_duty
def test_nothing_is_asked_of_a_removed_component(duty):
    """A system has no day of removal: closing it in place ends its duties instead."""
    gone = {"changes": [{"of": duty.subject, "on": "2025-01-01", "status": "closed removed from ground"}]}

    assert (
        standing(duty.document("2024-12-20", **gone), duty.rule, duty.subject, "2025-07-01") == "not required"
    )


@pytest.mark.parametrize("duty", [duty for duty in DUTIES if duty.kind != "tank_system"], ids=str)
def test_a_removal_day_ends_the_duty(duty):
    document = duty.document(fields={"removed_on": "2025-01-01"})

    assert standing(document, duty.rule, "X1", "2024-12-31") == "no record"
    assert standing(document, duty.rule, "X1", "2025-01-01") == "not required"


@pytest.mark.parametrize("duty", [duty for duty in DUTIES if duty.outcome_counts], ids=str)
def test_a_failed_one_is_failed_and_moves_no_clock(duty):
    done, due = CYCLES[duty.interval][0]
    document = duty.document(done)
    document["records"] += duty.document(shifted(done, 3), outcome="fail")["records"]

    found = finding(document, duty.rule, duty.subject, shifted(done, 5))

    assert (found.standing, found.due) == ("failed", date.fromisoformat(due))


@pytest.mark.parametrize("duty", [duty for duty in DUTIES if not duty.outcome_counts], ids=str)
def test_a_walkthrough_that_found_something_is_done(duty):
    """40 CFR 280.36(b): the record says what was found and done about it."""
    done, due = CYCLES[duty.interval][0]

    found = finding(duty.document(done, outcome="fail"), duty.rule, duty.subject, done)

    assert found.due == date.fromisoformat(due)


APPLICABILITY = [
    ("spill-bucket-dual-wall-monitoring", "both_walls_monitored"),
    ("spill-bucket-dual-wall-monitoring", "spill_bucket_wall_type"),
    ("sump-tightness-3y", "used_for_interstitial_monitoring"),
    ("sump-dual-wall-monitoring", "wall"),
    ("annual-probe-sensor-test", "used_for_release_detection"),
    ("tank-monitor-30d-any", "installed_on"),
    ("tank-monitor-30d-interstitial", "installed_on"),
    ("tank-tightness-5y", "release_detection"),
    ("manual-gauging-weekly", "release_detection"),
    ("manual-gauging-weekly", "compartment_capacity_gallons"),
    ("hazsub-interstitial-30d", "hazardous_substance"),
    ("emergency-generator-rd", "emergency_generator"),
    ("pressurised-line-tightness-annual", "piping_style"),
    ("pressurised-line-monthly-monitoring", "piping_style"),
    ("suction-line-tightness-3y", "piping_style"),
    ("suction-line-monthly-monitoring", "piping_style"),
    ("new-piping-interstitial-30d", "piping_style"),
    ("new-piping-interstitial-30d", "installed_on"),
    ("cp-impressed-60-days", "cp_type"),
    ("lining-inspection", "cp_type"),
]


@pytest.mark.parametrize(("rule", "fact"), APPLICABILITY)
def test_a_fact_that_decides_and_that_nobody_stated_is_named(rule, fact):
    """Never "not required": an unknown fact takes no duty away."""
    duty = duty_of(rule)
    found = finding(duty.document("2025-06-20", fields={fact: None}), rule, "X1", "2025-07-01")

    assert found.standing == "cannot decide"
    assert lacks(found, fact)


UNCONDITIONAL = sorted({duty.rule for duty in DUTIES} - {rule for rule, _ in APPLICABILITY})


@pytest.mark.parametrize("rule", UNCONDITIONAL)
def test_an_unknown_first_day_without_any_record_is_no_record(rule):
    """The duty is certain, its first date is not: the fact is named, the standing does not wait for it."""
    duty = duty_of(rule)
    document = duty.document(fields={"brought_into_use_on": None, "installed_on": None})

    found = finding(document, rule, duty.subject, "2025-07-01")

    assert found.standing == "no record"
    assert lacks(found, "brought_into_use_on") or lacks(found, "installed_on")


# --- 40 CFR 280.70(a): what goes on while a system is temporarily closed

SPILL_AND_OVERFILL = {
    "walkthrough-30-day-spill",
    "spill-bucket-tightness-3y",
    "spill-bucket-dual-wall-monitoring",
    "overfill-inspection-3y",
}
CORROSION = {"cp-test-3-years", "cp-impressed-60-days", "lining-inspection"}


@every_duty
def test_closed_with_product_only_spill_and_overfill_upkeep_sleeps(duty):
    document = duty.document(changes=[closed("2016-01-01", residue_in=12)])

    sleeps = standing(document, duty.rule, duty.subject, "2025-07-01") == "suspended"

    assert sleeps == (duty.rule in SPILL_AND_OVERFILL)


@every_duty
def test_closed_and_empty_only_corrosion_protection_goes_on(duty):
    """At most one inch of residue: 40 CFR 280.70(a)."""
    document = duty.document(changes=[closed("2016-01-01", residue_in=1.0)])

    sleeps = standing(document, duty.rule, duty.subject, "2025-07-01") == "suspended"

    assert sleeps == (duty.rule not in CORROSION)


@every_duty
def test_residue_that_nobody_measured_is_not_empty(duty):
    document = duty.document(changes=[closed("2016-01-01")])

    sleeps = standing(document, duty.rule, duty.subject, "2025-07-01") == "suspended"

    assert sleeps == (duty.rule in SPILL_AND_OVERFILL)


@pytest.mark.parametrize(
    ("residue", "empty"),
    [
        ({"residue_in": 1.0}, True),
        ({"residue_in": 1.01}, False),
        ({"residue_pct": 0.3}, True),
        ({"residue_pct": 0.31}, False),
        ({"residue_in": 1.5, "residue_pct": 0.2}, True),
    ],
)
def test_empty_is_an_inch_or_three_tenths_of_a_percent(residue, empty):
    """40 CFR 280.70(a): either measure is enough."""
    change = {"of": "S1", "on": "2025-01-01", "status": "temporarily out of service", **residue}
    document = duty_of("tank-monitor-30d-any").document(changes=[change])

    sleeps = standing(document, "tank-monitor-30d-any", "X1", "2025-07-01") == "suspended"

    assert sleeps == empty


@pytest.mark.parametrize(
    "substance", ["gasoline (unknown type)", "diesel fuel (b-unknown)", "used oil/waste oil"]
)
def test_a_tank_of_petroleum_is_no_tank_of_a_hazardous_substance(substance):
    """40 CFR 280.12: "hazardous substance" leaves petroleum out. Words: EPA UST data template, 3 Feb 2025."""
    duty = duty_of("hazsub-interstitial-30d")
    document = duty.document("2025-06-20", fields={"hazardous_substance": None, "substance": substance})

    assert finding(document, duty.rule, "X1", "2025-07-01").standing == "not required"


@pytest.mark.parametrize("substance", ["other or mixture", "unknown", "solvent"])
def test_a_word_that_proves_nothing_excuses_nothing(substance):
    """40 CFR 280.42: who is not shown to hold petroleum is not excused."""
    duty = duty_of("hazsub-interstitial-30d")
    document = duty.document("2025-06-20", fields={"hazardous_substance": None, "substance": substance})

    assert finding(document, duty.rule, "X1", "2025-07-01").standing == "cannot decide"

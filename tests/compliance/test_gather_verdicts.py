"""The outcome in a site document is the one that the numbers give, in the setting of the day and the subject."""

from datetime import date, timedelta

import pytest

from compliance.gather import gather, site_documents
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from equipment.models import Tank
from equipment.moments import Moment
from equipment.physics.charts import Row
from equipment.services.changes import state_change
from equipment.services.charts import state_chart
from equipment.services.records import Deed, record_visit
from tests import world
from tests.world import NOW, TODAY

YESTERDAY = Moment(instant=NOW - timedelta(hours=20))


@pytest.fixture
def site(own):
    world.line(own)
    return own


def put(site, activity: str, *subjects: str, outcome=None, performed: Moment = YESTERDAY, **measurements):
    deed = Deed(
        activity=activity,
        performed=performed,
        subjects=subjects,
        outcome=outcome,
        measurements=measurements,
    )
    visit = record_visit(facility=site, submitted_by=site.operator, entered_by="test", deeds=[deed], now=NOW)
    return visit.records[0]


def row(site) -> dict:
    return site_documents([site.pk])[site.pk]["records"][-1]


def standing(site, rule: str) -> list:
    document = read_document(site_documents([site.pk])[site.pk])
    return [one for one in judge(document, installed_packs(), at=NOW).findings if one.rule == rule]


def test_a_reported_pass_whose_numbers_fail_is_a_fail_and_says_what_was_reported(site):
    """PEI RP 1200 section 6.2.6: a fall under 1/8 in."""
    put(site, "spill-bucket-test", "SB1", outcome="pass", **world.LEAKING_BUCKET)

    shown = row(site)

    assert (shown["outcome"], shown["reported_outcome"], shown["x_disagreement"]) == ("fail", "pass", True)
    assert [one.standing for one in standing(site, "spill-bucket-tightness-3y")] == ["failed"]


def test_agreement_is_not_mentioned(site):
    put(site, "spill-bucket-test", "SB1", outcome="pass", **world.TIGHT_BUCKET)

    assert row(site)["outcome"] == "pass"
    assert not {"reported_outcome", "x_disagreement", "missing_measurements"} & set(row(site))


def test_a_pass_without_numbers_cannot_be_decided_and_each_missing_number_is_named(site):
    record = put(site, "spill-bucket-test", "SB1", outcome="pass", method="liquid")

    [found] = standing(site, "spill-bucket-tightness-3y")

    assert "outcome" not in row(site)
    assert row(site)["reported_outcome"] == "pass"
    assert found.standing == "cannot decide"
    assert [(one.subject, one.field) for one in found.missing] == [
        (f"record:{record.pk}", f"measurements__{name}")
        for name in ("level_start_in", "level_end_in", "minutes")
    ]
    assert "level start in" in found.sentence


def test_a_computed_fail_starts_the_clock_that_a_reported_one_starts(site):
    """40 CFR 280.50(c): a monitoring result that indicates a release, reported within 24 hours."""
    put(site, "tank-tightness-test", "T1", outcome="pass", **world.LEAKING_TANK)

    [report] = standing(site, "report-failed-result")

    assert (report.standing, report.due) == ("due soon", NOW + timedelta(hours=4))
    assert row(site)["known_by"] == [{"party": "operator", "at": NOW.isoformat()}]


def test_a_reported_fail_whose_numbers_pass_meets_the_duty_to_test_and_keeps_its_clock(site):
    """40 CFR 280.50(c): whoever called it a fail may have seen what no number says; reporting is the safe side."""
    first = put(site, "tank-tightness-test", "T1", outcome="fail", **world.TIGHT_TANK)

    assert (row(site)["outcome"], row(site)["reported_outcome"]) == ("pass", "fail")
    assert [one.subject for one in standing(site, "report-failed-result")] == [f"record:{first.pk}"]

    corrected = Deed(
        activity="tank-tightness-test",
        performed=YESTERDAY,
        subjects=("T1",),
        outcome="pass",
        measurements=world.TIGHT_TANK,
        supersedes=first.pk,
    )
    record_visit(facility=site, submitted_by=site.operator, entered_by="test", deeds=[corrected], now=NOW)

    assert standing(site, "report-failed-result") == []


def test_a_fail_without_numbers_stands(site):
    put(site, "tank-tightness-test", "T1", outcome="fail")

    assert row(site)["outcome"] == "fail"
    assert row(site)["missing_measurements"] == ["leak_rate_gph", "threshold_gph"]
    assert len(standing(site, "report-failed-result")) == 1


def test_a_month_of_inventory_has_a_verdict_and_no_outcome(site):
    """Rules compare its numbers: one month over the limit waits for the second."""
    record = put(site, "inventory-month", "T1", throughput_gal=10_000, net_gal=-400)

    gathered = gather([site.pk])[site.pk]

    assert gathered.counted[record.pk].verdict.outcome == "fail"
    assert "outcome" not in gathered.document["records"][0]


def test_a_device_is_judged_by_its_type(site):
    """40 CFR 280.20(c)(1)(ii): a shutoff at 95 percent, an alarm at 90."""
    world.component(site, "overfill_device", "OV2", parent="T1", overfill_type="high-level alarm")
    numbers = {"acts_at_level": True, "acts_volume_gal": 9_300, "capacity_gal": 10_000}

    put(site, "overfill-inspection", "OV1", outcome="pass", **numbers)
    shutoff = row(site)["outcome"]
    put(site, "overfill-inspection", "OV2", outcome="pass", **numbers)
    alarm = row(site)["outcome"]
    put(site, "overfill-inspection", "OV1", "OV2", outcome="pass", **numbers)

    assert (shutoff, alarm, row(site)["outcome"]) == ("pass", "fail", "fail")


def test_type_and_jurisdictions_are_those_of_the_day_of_the_test(site):
    """The number of another state's form does not reach back: Maine gives no 130 gal (DEP UST-08)."""
    device = site.components.get(tag="OV1")
    for component, field, value in (
        (device, "overfill_type", "high-level alarm"),
        (None, "jurisdictions", []),
    ):
        state_change(
            facility=site,
            component=component,
            effective_on=date(2026, 2, 1),
            field=field,
            value=value,
            by="test",
            now=NOW,
        )
    numbers = {"acts_at_level": True, "acts_volume_gal": 9_300, "capacity_gal": 10_000}

    put(site, "overfill-inspection", "OV1", performed=Moment(day=date(2026, 1, 31)), **numbers)
    before = gather([site.pk])[site.pk].counted
    put(site, "overfill-inspection", "OV1", performed=Moment(day=date(2026, 2, 1)), **numbers)
    after = gather([site.pk])[site.pk].counted

    assert [one.outcome for one in before.values()] == ["pass"]
    assert [one.verdict is None for one in after.values()] == [False, True]


def test_at_an_earlier_moment_a_later_record_is_not_judged(site):
    put(site, "spill-bucket-test", "SB1", outcome="pass", **world.LEAKING_BUCKET)

    earlier = gather([site.pk], known_at=NOW - timedelta(seconds=1))[site.pk]

    assert earlier.counted == {}
    assert NOW.date() == TODAY


def test_a_level_is_looked_up_in_the_chart_that_the_tank_had_that_day(site, owner):
    """By a chart of even steps 93 in are 93 percent, by the later one 96: over the 95 of 40 CFR 280.20(c)(1)(ii)(A)."""
    tank = site.components.get(tag="T1")
    for since, at_93 in ((None, 9_300.0), (date(2026, 2, 1), 9_600.0)):
        state_chart(
            facility=site,
            component=tank,
            submitted_by=owner,
            by="test",
            now=NOW,
            source="maker's chart",
            rows=[Row(0.0, 0.0), Row(93.0, at_93), Row(100.0, 10_000.0)],
            shape=None,
            step_in=None,
            effective_on=since,
            note=None,
        )
    numbers = {"acts_at_level": True, "acts_height_in": 93.0}

    put(site, "overfill-inspection", "OV1", performed=Moment(day=date(2026, 1, 31)), **numbers)
    before = row(site)["outcome"]
    put(site, "overfill-inspection", "OV1", performed=Moment(day=date(2026, 2, 1)), **numbers)

    assert (before, row(site)["outcome"]) == ("pass", "fail")


def test_a_line_is_bulk_piping_by_the_register_alone(site):
    """40 CFR 280.252(d): 1.0 gal/h twice a year under 50,000 gal, at operating pressure; else 0.1 at 1.5 times."""
    tested = {"section_gal": 900.0, "semiannual": True, "detectable_leak_gph": 1.0, "pressure_ratio": 1.0}
    rates = {"leak_rate_gph": 0.3, "threshold_gph": 0.5}
    put(site, "line-tightness-test", "P1", outcome="pass", **tested, **rates)

    ordinary = row(site)["outcome"]
    Tank.objects.filter(facility=site, tag="T1").update(airport_hydrant_system=True)

    assert (ordinary, row(site)["outcome"]) == ("fail", "pass")

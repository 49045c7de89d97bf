"""Nothing of 40 CFR Part 280 is forgotten: each duty and retention period is a rule, or listed with a reason.

The list is `us_federal_duties.toml`, drawn up from 40 CFR Part 280 with how each wording was verified; its counts are
held here, so that a duty cannot fall out of both.
"""

import re
import tomllib

import pytest

from tests.compliance.rulepacks.federal import PACKS, packs

LIST = tomllib.loads((PACKS / "us_federal_duties.toml").read_text())
LISTED = LIST["duties"] | LIST["retention"]
NOT_JUDGED = tomllib.loads((PACKS / "us_federal_not_judged.toml").read_text())["not_judged"]
OUR_OWN = {
    "designate-class-b",
    "investigate-failed-result",
    "investigate-noticed-sign",
    "investigate-suspected-release-inventory",
    "investigate-suspected-release-second-month",
    "investigate-unusual-condition",
    "mute-sensor-put-right",
    "report-failed-result",
    "report-noticed-sign",
    "report-suspected-release-inventory",
    "report-suspected-release-second-month",
    "report-unusual-condition",
}
"""Further halves of a listed duty: what starts the clocks of 280.50 and 280.52 besides an alarm (a result, a condition
found, a sign noticed, two months of inventory of 280.43(a)); the other operator class (280.241(a)); that release
detection is operated and maintained (280.40(a)(3)) where a sensor was seen not to answer between its yearly tests."""
RULES = [entry.table for entry in packs().rules]


def test_the_list_has_106_duties_and_20_retention_periods():
    """40 CFR Part 280 duty list, count of its rows."""
    assert (len(LIST["duties"]), len(LIST["retention"]), len(LISTED)) == (106, 20, 126)
    assert all(slug.startswith("rec-") for slug in LIST["retention"])


def test_every_listed_duty_is_a_rule_or_is_listed_as_not_judged():
    judged = {rule.id for rule in RULES} - OUR_OWN
    unjudged = {row["id"] for row in NOT_JUDGED}

    assert judged | unjudged == set(LISTED)
    assert not judged & unjudged


@pytest.mark.parametrize("row", NOT_JUDGED, ids=lambda row: row["id"])
def test_what_is_not_judged_says_where_it_stands_and_why(row):
    assert set(row) == {"id", "cite", "reason"}
    assert row["cite"].startswith("40 CFR 280.")
    assert row["reason"].endswith(".")
    assert len(row["reason"].split()) >= 8


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_wording_cites_a_paragraph_and_its_verification(rule):
    for version in rule.version:
        assert re.match(r"40 CFR 280\.\d+", version.cite)
        assert set(version.verified.split("/")) <= {"VT", "VS", "VO", "VE", "V2", "MU"}


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.id in LISTED], ids=lambda rule: rule.id)
def test_the_verification_code_is_that_of_the_list(rule):
    assert {version.verified for version in rule.version} == {LISTED[rule.id]}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_task_is_one_plain_sentence(rule):
    assert rule.task is not None
    assert rule.task[0].isupper()
    assert rule.task.endswith(".")
    assert rule.task.count(". ") == 0


def test_only_duties_answered_by_one_deed_share_a_task():
    """One form for a new system (40 CFR 280.22, 280.110(b)); one test begins its cycle (280.31(b)(1))."""
    shared = {}
    for rule in RULES:
        shared.setdefault(rule.task, set()).add(rule.id)

    together = sorted(sorted(ids) for ids in shared.values() if len(ids) > 1)

    assert together == [
        ["cp-test-3-years", "cp-test-6-months"],
        ["emergency-generator-rd", "tank-monitor-30d-any"],
        ["fr-new-tank-certify", "installation-certified", "new-ust-notice"],
    ]

"""The standings in their order, and the sorting of evidence that they rest on.

40 CFR 280.34 and 280.45 leave proof to the owner: what nobody can show does not count, and what nobody stated is named
instead of guessed.
"""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from compliance.rules.document import read_document
from compliance.rules.judging import judge
from tests.compliance.rules.sites import cup_test, site

RULE = """
unless = [{ fill_max_gal_per_transfer__lte = 25 }]
schedule = { every = "1 year", first = "on brought_into_use_on" }
satisfied_by = [{ activity = "cup-test", accept = { measurements__method = "liquid" } }]
"""
NEW_YORK = ZoneInfo("America/New_York")
IN_USE = {"brought_into_use_on": "2020-06-01"}
LIQUID = {"method": "liquid"}


def good(day, **more):
    return cup_test(day, measurements=LIQUID, **more)


@pytest.mark.parametrize(
    ("at", "standing", "days_late"),
    [
        (date(2026, 4, 30), "met", 0),
        (date(2026, 5, 1), "due soon", 0),
        (date(2026, 5, 31), "due soon", 0),
        (date(2026, 6, 1), "overdue", 1),
    ],
)
def test_the_last_day_is_in_time_and_the_notice_comes_thirty_days_before(
    version, finding, at, standing, days_late
):
    found = finding(version(RULE), site(good("2025-05-31")), at)

    assert (found.standing, found.days_late) == (standing, days_late)


def test_a_day_ends_at_local_midnight(version, finding):
    last_minute = datetime(2026, 5, 31, 23, 59, tzinfo=NEW_YORK)

    before = finding(version(RULE), site(good("2025-05-31")), last_minute)
    after = finding(version(RULE), site(good("2025-05-31")), last_minute + timedelta(minutes=1))

    assert (before.standing, after.standing) == ("due soon", "overdue")


def test_never_done_is_no_record_once_the_first_due_has_passed(version, finding):
    found = finding(version(RULE), site(bucket=IN_USE), date(2020, 6, 3))

    assert (found.standing, found.days_late) == ("no record", 2)


def test_a_first_due_ahead_is_due_soon_however_far(version, finding):
    packs = version(
        'schedule = { every = "1 year", first = 2030-01-01 }\nsatisfied_by = [{ activity = "cup-test" }]'
    )

    assert finding(packs, site(bucket=IN_USE), date(2021, 1, 1)).standing == "due soon"


def test_a_fail_stands_until_a_later_pass(version, finding):
    failed = site(good("2025-05-31"), cup_test("2025-08-01", "fail"))
    passed = site(good("2025-05-31"), cup_test("2025-08-01", "fail"), good("2025-08-09"))

    assert finding(version(RULE), failed, date(2025, 9, 1)).standing == "failed"
    assert finding(version(RULE), passed, date(2025, 9, 1)).standing == "met"


def test_a_fail_never_moves_the_clock(version, finding):
    found = finding(version(RULE), site(good("2025-05-31"), cup_test("2026-05-01", "fail")), date(2026, 5, 2))

    assert (found.standing, found.due) == ("failed", date(2026, 5, 31))


def test_a_fail_with_poor_data_is_still_a_fail(version, finding):
    assert finding(version(RULE), site(cup_test("2025-08-01", "fail")), date(2025, 9, 1)).standing == "failed"


def test_at_the_same_moment_the_fail_stands(version, finding):
    assert (
        finding(
            version(RULE),
            site(good("2025-08-01"), good("2025-08-01", id="R") | {"outcome": "fail"}),
            date(2025, 9, 1),
        ).standing
        == "failed"
    )


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (cup_test("2025-05-31", measurements={"method": "visual"}), "method is visual, not liquid"),
        (good("2025-05-31") | {"outcome": "inconclusive"}, "the outcome is inconclusive"),
    ],
)
def test_evidence_that_does_not_count_is_listed_with_the_reason(version, finding, row, reason):
    found = finding(version(RULE), site(row, bucket=IN_USE), date(2025, 9, 1))

    assert found.standing == "no record"
    assert [row.reason for row in found.not_counted] == [reason]


@pytest.mark.parametrize(
    "row",
    [
        good("2025-05-31", withdrawn="typed twice"),
        good("2025-05-31", id="old"),
        good("2025-10-01"),
        good("2025-05-31") | {"subject": "S"},
    ],
    ids=["withdrawn", "corrected", "in the future", "about another item"],
)
def test_rows_that_are_none_of_its_business_are_ignored(version, finding, row):
    correction = cup_test("2025-05-31", "inconclusive", measurements=LIQUID, supersedes="old", id="new")
    rows = [row, correction] if row.get("id") == "old" else [row]

    found = finding(version(RULE), site(*rows, bucket=IN_USE), date(2025, 9, 1))

    assert (found.standing, found.evidence) == ("no record", [])


@pytest.mark.parametrize(
    ("row", "field"),
    [(cup_test("2025-05-31"), "measurements__method"), (good("2025-05-31") | {"outcome": None}, "outcome")],
)
def test_unclear_evidence_that_decides_cannot_be_decided(version, finding, row, field):
    found = finding(version(RULE), site(row | {"id": "R"}), date(2025, 9, 1))

    assert found.standing == "cannot decide"
    assert [(fact.subject, fact.field) for fact in found.missing] == [("R", field)]


def test_unclear_evidence_that_changes_nothing_is_no_matter(version, finding):
    found = finding(version(RULE), site(cup_test("2025-05-30"), good("2025-05-31")), date(2025, 9, 1))

    assert (found.standing, found.missing) == ("met", [])


def test_a_replaced_component_inherits_no_evidence(version, finding):
    bucket = {"installed_on": "2025-07-01", "brought_into_use_on": "2025-07-01"}

    inherited = finding(version(RULE), site(good("2025-06-30"), bucket=bucket), date(2025, 9, 1))
    same_day = finding(version(RULE), site(good("2025-07-01"), bucket=bucket), date(2025, 9, 1))

    assert (inherited.standing, same_day.standing) == ("no record", "met")


def test_an_exemption_must_be_proven_and_its_fact_is_named(version, finding):
    unknown = finding(version(RULE), site(good("2025-05-31")), date(2025, 9, 1))
    proven = finding(version(RULE), site(bucket={"fill_max_gal_per_transfer": 25}), date(2025, 9, 1))

    assert [fact.field for fact in unknown.could_change] == ["fill_max_gal_per_transfer"]
    assert (unknown.standing, proven.standing) == ("met", "not required")


def test_an_unknown_fact_in_applies_cannot_be_decided(version, finding):
    found = finding(version("applies = { both_walls_monitored = true }" + RULE), site(), date(2025, 9, 1))

    assert (found.standing, [fact.field for fact in found.missing]) == (
        "cannot decide",
        ["both_walls_monitored"],
    )


@pytest.mark.parametrize(
    ("wall", "standing"),
    [("double", "met"), ("single", "failed"), ("unknown", "cannot decide"), (None, "cannot decide")],
)
def test_a_condition_that_must_hold_is_met_failed_or_undecided(version, finding, wall, standing):
    packs = version('must = { spill_bucket_wall_type = "double" }')

    assert (
        finding(packs, site(bucket={"spill_bucket_wall_type": wall}), date(2025, 9, 1)).standing == standing
    )


CHOICES = """
pack = "invented"
[[rule]]
id = "line"
title = "Invented line test"
subject = "piping_run"
[[rule.version]]
election = { group = "piping_release_detection", choice = "line tightness", default = true }
must = { below_ground = true }
cite = "Invented Code 6"
verified = "M"
[[rule]]
id = "month"
title = "Invented monitoring"
subject = "piping_run"
[[rule.version]]
election = { group = "piping_release_detection", choice = "monthly monitoring" }
must = { below_ground = true }
cite = "Invented Code 6"
verified = "M"
"""


@pytest.mark.parametrize(
    ("elected", "rule"), [(None, "line"), ("line tightness", "line"), ("monthly monitoring", "month")]
)
def test_the_choice_nobody_stated_is_the_default_one(packs, elected, rule):
    run = {"id": "P", "kind": "piping_run", "elected_piping_release_detection": elected}
    document = read_document(site(components=[run]))

    judged = judge(document, packs(CHOICES), at=date(2026, 1, 1), jurisdictions=["invented"])

    assert [found.rule for found in judged.findings] == [rule]


def test_the_answer_says_why_and_cites_the_wording(version, finding):
    found = finding(version("effective = 2015-10-13" + RULE), site(good("2025-05-31")), date(2025, 9, 1))

    assert (found.version, found.cite, found.verified) == (date(2015, 10, 13), "Invented Code 1", "M")
    assert ("fill_max_gal_per_transfer", None) in [(read.path, read.value) for read in found.why]
    assert found.sentence == "Invented cup test (spill bucket SB): in order; the date to keep is 2026-05-31."


def test_history_as_people_saw_it_leaves_out_what_was_recorded_later(version, finding):
    late_entry = site(good("2025-05-31", recorded_at="2025-12-01"), bucket=IN_USE)

    really = finding(version(RULE), late_entry, date(2025, 9, 1))
    as_seen = finding(version(RULE), late_entry, date(2025, 9, 1), known_at=date(2025, 9, 1))

    assert (really.standing, as_seen.standing) == ("met", "no record")


def test_late_intervals_drop_out_of_the_look_back(version, finding):
    late = site(good("2019-05-01"), good("2020-05-11"))

    kept = finding(version(RULE), late, date(2021, 5, 11), look_back_days=365)
    dropped = finding(version(RULE), late, date(2021, 5, 12), look_back_days=365)

    assert (len(kept.late_intervals), len(dropped.late_intervals)) == (1, 0)

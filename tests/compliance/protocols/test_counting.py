"""What counts of a record: every pair of a reported and a computed outcome."""

import pytest

from compliance.protocols import counted, verdict
from tests.compliance.protocols.worked import FEDERAL

WATER = {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 11.0}
NUMBERS = {
    "pass": WATER,
    "fail": WATER | {"level_end_in": 10.75},
    "inconclusive": WATER | {"minutes": 30},
    "incomplete": {"method": "liquid"},
}


def bucket(reported, *computed, outcome_used=True):
    verdicts = [verdict("spill-bucket-test", NUMBERS[name], reported, setting=FEDERAL) for name in computed]
    return counted(reported, verdicts, outcome_used=outcome_used)


@pytest.mark.parametrize(
    ("reported", "computed", "counts", "disagreement"),
    [
        ("pass", "pass", "pass", False),
        ("pass", "fail", "fail", True),
        ("pass", "inconclusive", "inconclusive", False),
        ("pass", "incomplete", None, False),
        ("fail", "pass", "pass", True),
        ("fail", "fail", "fail", False),
        ("fail", "inconclusive", "fail", False),
        ("fail", "incomplete", "fail", False),
        ("inconclusive", "pass", "pass", False),
        ("inconclusive", "fail", "fail", False),
        ("inconclusive", "inconclusive", "inconclusive", False),
        ("inconclusive", "incomplete", "inconclusive", False),
        (None, "pass", "pass", False),
        (None, "fail", "fail", False),
        (None, "inconclusive", "inconclusive", False),
        (None, "incomplete", None, False),
    ],
)
def test_numbers_count_and_a_reported_fail_needs_a_pass_to_be_taken_back(
    reported, computed, counts, disagreement
):
    found = bucket(reported, computed)

    assert found.outcome == counts
    assert found.verdict.outcome == computed
    assert found.verdict.disagreement is disagreement
    assert bool(found.verdict.notes) is disagreement
    assert found.differs is (reported is not None and reported != counts)


FINDINGS = {"alarm_ok": True, "communicates": True}


@pytest.mark.parametrize(
    ("reported", "findings", "counts"),
    [
        ("fail", FINDINGS, "fail"),
        ("pass", FINDINGS, "pass"),
        (None, FINDINGS, "pass"),
        ("pass", FINDINGS | {"alarm_ok": False}, "fail"),
        ("fail", FINDINGS | {"reading_in": 40.0, "stick_in": 40.0}, "pass"),
    ],
)
def test_good_findings_without_a_number_do_not_take_a_reported_fail_back(reported, findings, counts):
    """Who says that it failed also says yes and no; a number is nobody's opinion."""
    found = counted(
        reported, [verdict("probe-sensor-test", findings, reported, setting=FEDERAL)], outcome_used=True
    )

    assert found.outcome == counts


def test_a_fail_beside_good_findings_is_told_to_say_what_was_wrong():
    [note] = counted(
        "fail", [verdict("probe-sensor-test", FINDINGS, "fail", setting=FEDERAL)], outcome_used=True
    ).verdict.notes

    assert "state what was wrong" in note


def test_without_a_protocol_the_record_stands_as_reported():
    assert (bucket("pass").outcome, bucket("pass").verdict, bucket("pass").missing) == ("pass", None, ())


def test_of_several_subjects_the_worst_counts():
    assert bucket("pass", "pass", "fail", "incomplete").outcome == "fail"
    assert bucket("pass", "pass", "incomplete").outcome is None
    assert bucket("pass", "pass", "inconclusive", "incomplete").outcome == "inconclusive"


def test_what_is_missing_is_told_of_an_incomplete_test_alone():
    assert bucket("pass", "incomplete").missing == ("level_start_in", "level_end_in", "minutes")
    assert bucket("pass", "fail").missing == ()


def test_an_activity_without_outcomes_gets_none():
    assert bucket(None, "fail", outcome_used=False).outcome is None

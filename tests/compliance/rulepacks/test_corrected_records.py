"""Records that were corrected or taken back, for every recurring duty and every duty that an event starts.

The interval of each paragraph stands beside the duty in `recurring_duties.toml` and `event_duties.toml`. That a record
of what was not done proves nothing is a plain reading of 40 CFR 280.34(b) ("maintain ... documentation"); no paragraph
speaks of corrections.
"""

from datetime import date

import pytest

from compliance.rules.schedule import Grid, Monthly, Rolling
from tests.compliance.rulepacks.federal import finding, packs
from tests.compliance.rulepacks.recurring import DUTIES
from tests.compliance.rulepacks.test_event_duties import DAY_CLOCKS, EVENT_DUTIES, shifted
from tests.compliance.rulepacks.test_recurring_duties import CYCLES

TURNS = [
    pytest.param(duty, done, due, id=f"{duty}-{done}")
    for duty in DUTIES
    for done, due in CYCLES[duty.interval]
]
ANSWERED = [
    pytest.param(duty, *DAY_CLOCKS[duty.clock][0], id=str(duty))
    for duty in EVENT_DUTIES
    if duty.clock in DAY_CLOCKS
]


def test_no_recurring_rule_is_missing_in_the_table():
    """A rule that is added to the pack gets its rows: the day before, the day, the day after and all the others."""
    recurring = {
        entry.table.id
        for entry in packs().rules
        for version in packs().compiled(entry).versions
        if isinstance(version.schedule, Rolling | Monthly | Grid)
    }

    assert recurring == {duty.rule for duty in DUTIES}


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_a_date_typed_wrong_counts_as_corrected(duty, done, due):
    document = duty.document(done, shifted(done, 3))
    right, wrong = document["records"]
    wrong["id"], right["supersedes"] = "typed-wrong", "typed-wrong"

    found = finding(document, duty.rule, duty.subject, shifted(done, 3))

    assert found.due == date.fromisoformat(due)
    assert "typed-wrong" not in found.evidence


@pytest.mark.parametrize(("duty", "done", "due"), TURNS)
def test_a_record_taken_back_moves_no_due(duty, done, due):
    document = duty.document(done, shifted(done, 3))
    document["records"][1] |= {"id": "taken-back", "withdrawn": "another site"}

    found = finding(document, duty.rule, duty.subject, shifted(done, 3))

    assert found.due == date.fromisoformat(due)
    assert "taken-back" not in found.evidence


@pytest.mark.parametrize("duty", DUTIES, ids=str)
def test_the_only_record_taken_back_leaves_no_record(duty):
    document = duty.document("2025-06-20")
    document["records"][0]["withdrawn"] = "another site"

    found = finding(document, duty.rule, duty.subject, "2025-07-02")

    assert (found.standing, found.evidence) == ("no record", [])


@pytest.mark.parametrize(("duty", "at", "due"), ANSWERED)
def test_an_answer_taken_back_leaves_the_duty_open(duty, at, due):
    document = duty.document(at, due)
    document["records"][0]["withdrawn"] = "it was about another site"

    found = finding(document, duty.rule, duty.about, shifted(due, 1))

    assert (found.standing, found.days_late) == ("overdue", 1)


@pytest.mark.parametrize(("duty", "at", "due"), ANSWERED)
def test_an_answer_corrected_to_a_later_day_was_late(duty, at, due):
    document = duty.document(at, due, shifted(due, 2))
    wrong, right = document["records"][:2]
    wrong["id"], right["supersedes"] = "typed-wrong", "typed-wrong"

    found = finding(document, duty.rule, duty.about, shifted(due, 3))

    assert found.standing == "met"
    assert [interval.days_late for interval in found.late_intervals] == [2]

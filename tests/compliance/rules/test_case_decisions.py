"""An agency's letter sets other numbers for one case ("or another reasonable time period specified by the implementing
agency", 40 CFR 280.50 and 280.53), and changes nothing else."""

from datetime import date

import pytest

from compliance.rules.document import DocumentError
from tests.compliance.rules.sites import site

RULE = """
pack = "invented"
[[rule]]
id = "retest"
title = "Invented retest"
subject = "record"
[[rule.version]]
effective = 2015-10-13
applies = { activity = "repair" }
schedule = { due = "$period after performed_at" }
params = { period = "30 days" }
evidence_on = "subject"
satisfied_by = [{ activity = "cup-test" }]
cite = "Invented Code 1"
verified = "M"
"""
REPAIR = {"id": "R", "activity": "repair", "subject": "SB", "performed_at": "2026-01-10"}
LETTER = {"id": "L", "type": "agency letter"}


def decided(**more):
    decision = {"rule": "retest", "params": {"period": "90 days"}, "document": "L"} | more
    return site(REPAIR, documents=[LETTER], overrides=[decision])


def test_a_decision_sets_the_number_and_is_cited(packs, finding):
    found = finding(packs(RULE), decided(), date(2026, 1, 15), subject="R")

    assert (found.due, found.cite) == (date(2026, 4, 10), "Invented Code 1; agency letter L")


@pytest.mark.parametrize(("subject", "due"), [("R", date(2026, 4, 10)), ("SB", date(2026, 2, 9))])
def test_a_decision_about_one_item_leaves_the_others(packs, finding, subject, due):
    assert finding(packs(RULE), decided(subject=subject), date(2026, 1, 15), subject="R").due == due


def test_a_decision_before_the_due_extends_it(packs, finding):
    extended = decided(**{"from": "2026-02-01"})

    assert finding(packs(RULE), extended, date(2026, 3, 1), subject="R").due == date(2026, 4, 10)


def test_a_decision_after_the_due_ends_the_delay_on_its_day(packs, finding):
    found = finding(packs(RULE), decided(**{"from": "2026-02-20"}), date(2026, 3, 1), subject="R")

    assert (found.standing, found.due) == ("due soon", date(2026, 4, 10))
    assert [(late.due, late.done, late.days_late) for late in found.late_intervals] == [
        (date(2026, 2, 9), None, 11)
    ]


def test_a_decision_that_has_ended_no_longer_helps(packs, finding):
    ended = decided(**{"from": "2025-01-01", "to": "2025-12-31"})

    assert finding(packs(RULE), ended, date(2026, 1, 15), subject="R").due == date(2026, 2, 9)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [({"rule": "resett"}, "/overrides/0/rule"), ({"params": {"perod": "9 days"}}, "/overrides/0/params")],
)
def test_a_decision_that_fits_no_rule_is_refused(packs, finding, change, pointer):
    with pytest.raises(DocumentError) as refused:
        finding(packs(RULE), decided(**change), date(2026, 1, 15), subject="R")

    assert [fault.pointer for fault in refused.value.faults] == [pointer]

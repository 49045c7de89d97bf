"""How long rows are kept.

The sorts of period are those of 40 CFR 280.34, 280.45, 280.31(d) and 280.245: by age, by count, until the next,
and while something holds.
"""

from datetime import date

import pytest

from compliance.rules.document import read_document
from compliance.rules.retention import KEEP, retention
from tests.compliance.rules.sites import cup_test, site

RULE = """
[[rule]]
id = "ID"
title = "Invented keeping"
subject = "record"
[[rule.version]]
applies = { activity = "cup-test" }
retention = { KEYS }
cite = "Invented Code 1"
verified = "M"
"""
TESTS = [cup_test(f"202{year}-01-10", id=f"R{year}") for year in (1, 2, 3)]


def kept(packs, *keys, rows=TESTS, at=date(2024, 1, 10)):
    text = 'pack = "invented"\n' + "".join(
        RULE.replace("ID", f"keep-{number}").replace("KEYS", key) for number, key in enumerate(keys)
    )
    answers = retention(read_document(site(*rows)), packs(text), at, jurisdictions=["invented"])
    wanted = {one.subject for one in answers if one.standing == KEEP}
    named = {one.subject for one in answers}
    return {row["id"] for row in rows if row["id"] in wanted or row["id"] not in named}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ('age = "1 year"', {"R3"}),  # its last day is 2024-01-10 itself
        ("until_next = true", {"R3"}),
        ("count = 2", {"R2", "R3"}),
        ('while = { subject__status = "currently in use" }', {"R1", "R2", "R3"}),
        ('while = { subject__status = "abandoned" }', set()),
        ('age = "1 year", count = 2', {"R2", "R3"}),
    ],
)
def test_each_period_keeps_what_it_says_and_the_longest_wins(packs, keys, expected):
    assert kept(packs, keys) == expected


def test_over_several_rules_the_longest_wins(packs):
    assert kept(packs, 'age = "1 year"', 'age = "2 years"') == {"R2", "R3"}


def test_the_day_after_the_period_the_row_may_go(packs):
    assert kept(packs, 'age = "1 year"', at=date(2024, 1, 11)) == set()


def test_what_nobody_stated_keeps(packs):
    assert kept(packs, "while = { subject__both_walls_monitored = true }") == {"R1", "R2", "R3"}


def test_a_row_that_no_rule_names_is_kept(packs):
    repair = {"id": "X", "activity": "repair", "subject": "SB", "performed_at": "1990-01-01"}

    assert kept(packs, 'age = "1 year"', rows=[repair]) == {"X"}

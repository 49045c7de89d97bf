"""Which obligations a change of the rules moves: invented rules, so that each expected day can be counted by hand."""

from datetime import date

import pytest

from compliance.rules.comparing import compare_findings, counted, differing
from compliance.rules.document import read_document
from compliance.rules.judging import findings_at, judge
from compliance.rules.loading import load_packs
from tests.compliance.rules.sites import cup_test, site

RULE = """
[[rule]]
id = "{id}"
title = "Invented"
subject = "spill_bucket"
[[rule.version]]
effective = 2020-01-01
{body}
satisfied_by = [{{ activity = "cup-test" }}]
cite = "{cite}"
verified = "M"
"""
BUCKET = {"brought_into_use_on": "2020-01-01", "both_walls_monitored": True}
DOCUMENT = site(cup_test("2026-01-10"), bucket=BUCKET)


def rule(id: str = "cup-test", every: str = "30 days", more: str = "", cite: str = "Invented Code 1") -> str:
    body = f'{more}\nschedule = {{ every = "{every}" }}'
    return RULE.format(id=id, body=body, cite=cite)


@pytest.fixture
def shifts(tmp_path):
    """Compare two texts of one pack for the document on 15 January 2026."""

    def compare(old: str, new: str, document: dict = DOCUMENT):
        sides = []
        for name, text in (("old", old), ("new", new)):
            (tmp_path / name).mkdir()
            (tmp_path / name / "a.toml").write_text('pack = "us-federal"\n' + rule("other") + text)
            packs = load_packs([tmp_path / name])
            sides.append(
                findings_at(read_document(document), packs, at=date(2026, 1, 15), include_not_required=True)
            )
        return [shift for shift in compare_findings(*sides) if shift.rule == "cup-test"]

    return compare


def test_another_interval_moves_the_due_and_both_wordings_are_cited(shifts):
    """10 January and 30 days is 9 February, and 60 days 11 March 2026."""
    [shift] = shifts(rule(), rule(every="60 days", cite="Invented Code 2"))

    assert (shift.change, shift.subject) == ("moves", "SB")
    assert (shift.before.due, shift.before.cite) == (date(2026, 2, 9), "Invented Code 1")
    assert (shift.after.due, shift.after.cite) == (date(2026, 3, 11), "Invented Code 2")


def test_a_rule_that_is_gone_makes_its_obligation_vanish(shifts):
    [shift] = shifts(rule(), "")

    assert (shift.change, shift.after) == ("vanishes", None)


def test_a_rule_that_is_new_makes_one_appear(shifts):
    [shift] = shifts("", rule())

    assert (shift.change, shift.before, shift.after.standing) == ("appears", None, "met")


def test_a_new_exemption_makes_it_vanish_and_says_why(shifts):
    [shift] = shifts(rule(), rule(more="unless = { both_walls_monitored = true }"))

    assert (shift.change, shift.after.standing) == ("vanishes", "not required")
    assert "exemption" in shift.after.sentence


def test_the_same_duty_in_other_words_is_only_reworded(shifts):
    [shift] = shifts(rule(), rule(cite="Invented Code 2"))

    assert shift.change == "reworded"
    assert not list(differing([shift]))


def test_other_delays_of_the_past_are_told(shifts):
    """30 days after 20 November are 20 December, 60 days 19 January: the test of 10 January was late by one only.

    From 2026 on both texts ask for 60 days, so that both give the same due.
    """
    bucket = {"brought_into_use_on": "2025-11-20"}
    tested = site(cup_test("2025-11-20"), cup_test("2026-01-10"), bucket=bucket)
    later = rule(every="60 days").partition("[[rule.version]]")[2].replace("2020-01-01", "2026-01-01")

    [shift] = shifts(rule(every="60 days"), f"{rule()}[[rule.version]]{later}", tested)

    assert (shift.change, shift.before.standing, shift.before.due) == ("delays", "met", shift.after.due)
    assert shift.before.late_intervals == []
    assert [one.due for one in shift.after.late_intervals] == [date(2025, 12, 20)]
    assert list(differing([shift])) == [shift]


def test_without_a_change_everything_stays(shifts):
    unchanged = {"appears": 0, "vanishes": 0, "moves": 0, "delays": 0, "reworded": 0, "stays": 1}

    assert counted(shifts(rule(), rule())) == unchanged


def test_what_neither_side_requires_is_left_out(shifts):
    off = rule(more="applies = { both_walls_monitored = false }")

    assert shifts(off, off) == []


def test_two_parties_of_one_event_are_two_obligations(tmp_path):
    """Each party that knew has a clock of its own (40 CFR 280.50 asks owners and operators)."""
    text = """
pack = "us-federal"
[[rule]]
id = "call"
title = "Invented call"
subject = "alarm"
[[rule.version]]
per = "known_by"
schedule = { due = "24 hours after each__at" }
satisfied_by = [{ activity = "call" }]
cite = "Invented Code 3"
verified = "M"
"""
    (tmp_path / "a.toml").write_text(text)
    knew = [{"party": "owner", "at": "2026-01-10T08:00"}, {"party": "contractor", "at": "2026-01-11T08:00"}]
    alarm = {"condition": "high-water", "raised_at": "2026-01-10T07:00", "known_by": knew}
    document = read_document(site(alarms=[alarm]))
    found = judge(document, load_packs([tmp_path]), at=date(2026, 1, 11)).findings

    shifts = compare_findings(found, found[:1])

    assert [(shift.party, shift.change) for shift in shifts] == [
        ("contractor", "vanishes"),
        ("owner", "stays"),
    ]

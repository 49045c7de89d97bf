"""The dated tables of numbers: what is in force when and where, and what a faulty table is told."""

from datetime import date

import pytest

from compliance.protocols.criteria import HERE, CriteriaError, NoCriterion, in_force, installed, load

TODAY = date(2026, 3, 4)
RULES = HERE / "rules.toml"
CRITERION = """
[[criterion]]
id = "cup-fall"
title = "Fall in an invented cup"
unit = "in"
comparison = "<"
version = [
  { effective = 2020-01-01, value = 1.0, cite = "Example Code 1(a)", verified = "seen" },
  { effective = 2022-07-01, value = 0.5, cite = "Example Code 1(a), amended", verified = "seen" },
  { effective = 2021-01-01, value = 0.8, cite = "State Example 2", verified = "seen", jurisdiction = "us-xx" },
]
"""


@pytest.fixture
def table(tmp_path):
    def written(text):
        path = tmp_path / "criteria.toml"
        path.write_text(text, encoding="utf-8")
        return load(path, RULES)

    return written


@pytest.mark.parametrize(
    ("on", "value"), [(date(2020, 1, 1), 1.0), (date(2022, 6, 30), 1.0), (date(2022, 7, 1), 0.5)]
)
def test_a_wording_holds_from_its_day_on(table, on, value):
    assert in_force(on, (), table(CRITERION)).number("cup-fall").value == value


def test_before_the_first_wording_there_is_none(table):
    with pytest.raises(NoCriterion, match="cup-fall is not in force on 2019-12-31"):
        in_force(date(2019, 12, 31), (), table(CRITERION)).number("cup-fall")


def test_the_narrowest_jurisdiction_that_has_a_number_is_taken(table):
    criteria = table(CRITERION)

    assert in_force(TODAY, ("us-federal", "us-xx"), criteria).number("cup-fall").value == 0.8
    assert in_force(TODAY, ("us-federal",), criteria).number("cup-fall").value == 0.5


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('cite = "Example Code 1(a)", ', ""), "cite"),
        (('cite = "State Example 2"', 'cite = " "'), "state cite and verified"),
        (('comparison = "<"', 'comparison = "about"'), "comparison"),
        (("value = 0.8", "value = 0.8, limit = 1"), "limit"),
        (("[[criterion]]", "[[criterion"), "criteria.toml"),
    ],
)
def test_a_faulty_table_is_told_what_is_wrong(table, change, words):
    with pytest.raises(CriteriaError, match=words):
        table(CRITERION.replace(*change))


def test_a_criterion_named_twice_is_refused(table):
    with pytest.raises(CriteriaError, match="cup-fall stands twice"):
        table(CRITERION + CRITERION)


def test_every_installed_number_is_cited():
    criteria = installed()

    rules = (*criteria.inventory, *criteria.gauging, *criteria.delivery, *criteria.bulk_line)
    for each in (*criteria.numbers, *rules):
        assert each.cite
        assert each.verified
        assert each.effective <= TODAY


def test_a_tank_class_without_a_row_is_told_the_rows():
    with pytest.raises(NoCriterion, match="up to 550 gal; 551 to 1,000 gal, 64 in diameter"):
        in_force(TODAY, ("us-federal",)).gauging("600 gal")

"""Until which day each record must be kept: the five kinds of period of 40 CFR Part 280, and the advice given."""

from datetime import date

import pytest

from compliance.rules.document import read_document
from compliance.rules.retention import RetentionAnswer, retention
from tests.compliance.rulepacks.federal import component, moment, packs, site
from tests.compliance.rulepacks.test_retention import held


def told(document: dict, rule: str, subject: str, on: str) -> RetentionAnswer:
    answers = retention(read_document(document), packs(), at=moment(on))
    [answer] = [each for each in answers if (each.rule, each.subject) == (rule, subject)]
    return answer


def until(document: dict, rule: str, subject: str, on: str) -> tuple[str, date | None]:
    answer = told(document, rule, subject, on)
    return answer.standing, answer.until


@pytest.mark.parametrize("on", ["2024-07-01", "2025-06-30", "2030-01-01"])
def test_by_age_the_last_day_is_a_year_after_the_result_whenever_one_asks(on):
    """40 CFR 280.45(b): results of monitoring at least one year."""
    assert told(held("tank-monitoring-result", "2024-06-30"), "rec-monitoring", "R1", on).until == date(
        2025, 6, 30
    )


def test_a_year_from_a_leap_day_ends_on_the_last_of_february():
    """40 CFR 280.45(b); a day that the year does not have becomes the last of its month."""
    assert told(held("inventory-month", "2024-02-29"), "rec-monitoring", "R1", "2024-03-01").until == date(
        2025, 2, 28
    )


def test_by_count_the_last_day_is_the_one_before_the_second_newer_test():
    """40 CFR 280.31(d)(2): the results of the last two tests."""
    document = held(
        "cathodic-protection-test", "2018-01-01", "2021-01-01", "2024-01-01", kind="cathodic_protection"
    )

    kept = [until(document, "rec-cp-tests", each, "2025-07-01") for each in ("R1", "R2", "R3")]

    assert kept == [("may go", date(2023, 12, 31)), ("keep", None), ("keep", None)]


def test_until_the_next_the_last_day_is_the_one_before_it():
    """40 CFR 280.45(b)(2): a tank tightness test until the next is conducted."""
    document = held("tank-tightness-test", "2015-01-01", "2020-01-01", "2024-05-05")

    kept = [until(document, "rec-tank-tightness", each, "2025-07-01") for each in ("R1", "R2", "R3")]

    assert kept == [("may go", date(2019, 12, 31)), ("may go", date(2024, 5, 4)), ("keep", None)]


def test_a_year_and_until_the_next_ends_with_the_later_of_both():
    """40 CFR 280.45(b): the general year, and no sooner than the next test."""
    soon = held("line-tightness-test", "2025-01-01", "2025-03-01", kind="piping_run")
    late = held("line-tightness-test", "2022-01-01", "2025-03-01", kind="piping_run")

    assert until(soon, "rec-line-tightness", "R1", "2025-07-01") == ("keep", date(2026, 1, 1))
    assert until(late, "rec-line-tightness", "R1", "2025-07-01") == ("may go", date(2025, 2, 28))


def test_for_life_the_last_day_is_the_one_before_the_closure():
    """40 CFR 280.33(g): until the UST system is permanently closed."""
    document = held("repair", "2005-01-01")
    document["changes"] = [
        {"of": "X1", "on": "2020-01-01", "status": "temporarily out of service"},
        {"of": "X1", "on": "2025-01-01", "status": "closed in place"},
    ]

    assert until(document, "rec-repair", "R1", "2026-01-01") == ("may go", date(2024, 12, 31))
    assert until(held("repair", "2005-01-01"), "rec-repair", "R1", "2026-01-01") == ("keep", None)


def test_while_designated_the_last_day_is_the_last_of_the_duties():
    """40 CFR 280.245(b): records of training as long as the operators are designated."""
    row = {"id": "O1", "person": "P1", "operator_class": "A"}
    lasting = site(people=[{"id": "P1"}], designations=[row])
    ended = site(people=[{"id": "P1"}], designations=[row | {"ended_on": "2025-06-30"}])

    assert until(lasting, "rec-operators", "O1", "2025-06-01") == ("keep", None)
    assert until(ended, "rec-operators", "O1", "2025-06-01") == ("keep", date(2025, 6, 30))
    assert until(ended, "rec-operators", "O1", "2025-07-01") == ("may go", date(2025, 6, 30))


def test_where_nobody_stated_when_a_paper_was_issued_no_last_day_is_told():
    """40 CFR 280.45(a): five years from installation; what cannot be reckoned is kept."""
    document = site(component("tank"), documents=[{"id": "D1", "type": "performance claim"}])

    assert until(document, "rec-performance-claims", "D1", "2040-01-01") == ("keep", None)


@pytest.mark.parametrize("day", ["2024-12-31", "2025-06-30"])
def test_the_last_day_is_kept_and_the_next_one_is_not(day):
    """40 CFR 280.45(b): the told day itself is the last of the period."""
    document = held("tank-monitoring-result", f"{int(day[:4]) - 1}{day[4:]}")
    last = told(document, "rec-monitoring", "R1", day).until

    assert last == date.fromisoformat(day)
    assert told(document, "rec-monitoring", "R1", day).standing == "keep"
    after = date.fromordinal(last.toordinal() + 1).isoformat()
    assert told(document, "rec-monitoring", "R1", after).standing == "may go"


def test_the_answer_is_advice_and_names_the_day():
    document = held("tank-monitoring-result", "2024-06-30")

    kept, free = (told(document, "rec-monitoring", "R1", on).sentence for on in ("2025-01-01", "2026-01-01"))

    assert kept == "Monitoring results kept one year: keep it to 2025-06-30."
    assert "may be discarded" in free
    assert "2025-06-30" in free

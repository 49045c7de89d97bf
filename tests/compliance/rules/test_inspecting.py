"""What an inspector finds on a day, from what was on file that day.

The rules: 40 CFR 280.40(a)(3), a line leak detector is tested every year; 280.45(b)(1), the test is kept three years.
"""

from datetime import date

from compliance.rules.document import read_document
from compliance.rules.findings import STANDINGS
from compliance.rules.inspecting import Inspection, inspect
from tests.compliance.rulepacks.federal import packs
from tests.compliance.rules.test_history import RULE, SUBJECT, TESTED, detector, detector_test

ON = date(2023, 6, 1)


def inspected(then: dict, today: dict | None = None, on: date = ON, look_back_days: int = 365) -> Inspection:
    rows = (read_document(one) for one in (then, today or then))
    return inspect(*rows, packs(), on=on, look_back_days=look_back_days)


def test_what_needs_a_person_comes_first():
    order = [STANDINGS.index(one.standing) for one in inspected(detector(*TESTED)).standings]

    assert order == sorted(order)


def test_the_late_intervals_are_those_of_the_look_back():
    """Done 40 days late on 2023-03-01: seen a year later, and no more the day after."""
    document = detector(*TESTED)

    seen = [
        [one.days_late for one in inspected(document, on=on).late if one.rule == RULE]
        for on in (date(2024, 2, 29), date(2024, 3, 1))
    ]

    assert seen == [[40], []]


def test_a_test_that_came_on_file_later_could_not_be_shown():
    then = detector(*TESTED[:4])
    today = detector(*TESTED[:4], detector_test("2023-01-15", "R9", recorded_at="2024-06-01"))

    [missing] = [one for one in inspected(then, today).not_shown if one.record]

    assert (missing.record, missing.rule, missing.recorded_at) == ("R9", "rec-annual-operation", "2024-06-01")
    assert "280.45(b)(1)" in missing.cite
    assert "line leak detector test of 2023-01-15 was not on file that day" in missing.sentence


def test_a_test_that_need_not_be_kept_any_more_is_not_missed():
    then = detector()
    old = detector(detector_test("2020-05-31", "R9", recorded_at="2024-06-01"))

    assert [one.record for one in inspected(then, old).not_shown if one.record] == []


def test_a_test_that_was_done_after_the_day_is_not_missed():
    today = detector(*TESTED)

    assert [one.record for one in inspected(detector(*TESTED[:5]), today).not_shown if one.record] == []


def test_a_duty_without_any_record_is_missed():
    [missing] = [one for one in inspected(detector()).not_shown if one.rule == RULE]

    assert (missing.subject, missing.record) == (SUBJECT, None)
    assert "nothing on file shows that it was ever done" in missing.sentence

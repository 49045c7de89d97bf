"""One month of inventory over the limit, told as an alarm: a second month decides, 40 CFR 280.50(c)(3)."""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import finding, record, standing
from tests.compliance.rulepacks.test_releases import C4, INVESTIGATE, JUDGED, REPORT, RESULT, alarm, on_file

SECOND_REPORT, SECOND_INVESTIGATE = f"{REPORT}-second-month", f"{INVESTIGATE}-second-month"


def over_the_limit(type: str | None = None, **evidence: object) -> dict:
    """A first month of inventory over the limit, told as an alarm on 10 June."""
    return alarm(RESULT, type, condition="inventory-over-limit", **evidence)


@pytest.mark.parametrize("rule", [REPORT, INVESTIGATE])
def test_one_month_of_inventory_over_the_limit_starts_no_clock_of_hours(rule):
    """40 CFR 280.50(c)(3): unless a second month of data does not confirm the initial result."""
    assert standing(over_the_limit(), rule, "A1", JUDGED) == "not required"


@pytest.mark.parametrize(
    ("rule", "last", "late"),
    [
        (SECOND_REPORT, "2025-07-10", "2025-07-11"),
        (SECOND_INVESTIGATE, "2025-07-17", "2025-07-18"),
    ],
)
def test_with_the_second_month_over_and_nothing_shown_it_is_due(rule, last, late):
    """40 CFR 280.50(c)(3), 280.52. That the second month ends a month after the first one was known is our reading."""
    document = over_the_limit()

    found = finding(document, rule, "A1", JUDGED)
    assert (found.standing, found.due) == ("due soon", date.fromisoformat(last))
    assert standing(document, rule, "A1", last) == "due soon"
    assert standing(document, rule, "A1", late) == "overdue"


@pytest.mark.parametrize("rule", [SECOND_REPORT, SECOND_INVESTIGATE])
def test_a_second_month_within_the_limit_ends_it(rule):
    """40 CFR 280.43(a), 280.50(c)(3)."""
    cleared = on_file(over_the_limit("second month clears", second_month="M2"))
    confirmed = on_file(over_the_limit("second month clears", second_month="over"))

    assert standing(cleared, rule, "A1", "2025-07-20") == "not required"
    assert standing(confirmed, rule, "A1", "2025-07-20") == "overdue"


@pytest.mark.parametrize(
    ("looked_into", "expected"), [("2025-07-10T07:00", "not required"), ("2025-07-11T09:00", "overdue")]
)
def test_an_investigation_within_the_month_that_found_no_release_ends_it_too(looked_into, expected):
    """40 CFR 280.50(c)(3): or the investigation determines no release has occurred."""
    document = over_the_limit("non-release event", **{**C4, "investigated_at": looked_into})
    document["alarms"][0]["disposition"]["at"] = looked_into

    assert standing(document, SECOND_REPORT, "A1", "2025-07-20") == expected


def test_a_report_answers_it():
    told = record(
        "report-to-agency", "2025-07-09", subject=None, report="suspected release", regarding="A1", id="R1"
    )

    assert standing(over_the_limit() | {"records": [told]}, SECOND_REPORT, "A1", "2025-07-20") == "met"


def test_the_second_month_is_asked_of_inventory_control_only():
    """40 CFR 280.50(c)(3): in the case of inventory control."""
    assert standing(alarm(RESULT), SECOND_REPORT, "A1", JUDGED) == "not required"

"""Walkthroughs: thirty days are no month, and the exception for infrequent deliveries must be earned each time."""

from datetime import date

from tests.compliance.rulepacks.federal import component, finding, record, site, standing

SPILL = "walkthrough-30-day-spill"
BEFORE = "walkthrough-before-delivery-spill"
DETECTION = "walkthrough-30-day-rd"


def walked(*days: str, areas: tuple[str, ...] = ("spill", "release detection")) -> list[dict]:
    return [record("walkthrough", on, subject=None, outcome=None, areas=list(areas)) for on in days]


def marina(
    deliveries: tuple[str, ...], walks: tuple[str, ...], elected: str | None = "before delivery"
) -> dict:
    rows = [
        {"id": f"D{number}", "subject": "T1", "started_at": f"{day}T09:00"}
        for number, day in enumerate(deliveries, start=1)
    ]
    return site(
        component("tank", "T1"),
        component("spill_bucket", parent="T1", brought_into_use_on="2010-01-01"),
        facility={"elected_spill_walkthrough": elected},
        system={"brought_into_use_on": "2010-01-01"},
        deliveries=rows,
        records=walked(*walks),
    )


def test_the_same_day_of_each_month_is_a_day_late_after_a_long_month():
    """40 CFR 280.36(a)(1)(i) says every 30 days: 31 days lie between 15 January and 15 February."""
    document = marina((), ("2025-01-15", "2025-02-15", "2025-03-15"), elected="every 30 days")

    found = finding(document, SPILL, "X1", "2025-03-20")

    assert [(late.due, late.days_late) for late in found.late_intervals][-1] == (date(2025, 2, 14), 1)


def test_before_2018_nobody_had_to_walk():
    """40 CFR 280.36(a): not later than 13 October 2018."""
    document = marina((), (), elected="every 30 days")

    assert standing(document, SPILL, "X1", "2018-10-12") == "not required"
    assert finding(document, SPILL, "X1", "2018-10-13").due == date(2018, 10, 13)


def test_deliveries_further_apart_than_thirty_days_are_walked_each_time_instead():
    """40 CFR 280.36(a)(1)(i), exception."""
    document = marina(("2025-03-01", "2025-05-10", "2025-07-20"), ("2025-05-09", "2025-07-20"))

    assert standing(document, SPILL, "X1", "2025-07-25") == "not required"
    assert standing(document, BEFORE, "D2", "2025-07-25") == "met"
    assert standing(document, BEFORE, "D3", "2025-07-25") == "met"


def test_the_exception_leaves_release_detection_at_thirty_days():
    """40 CFR 280.36(a)(1)(i): the exception is about spill prevention equipment."""
    document = marina(("2025-03-01", "2025-05-10", "2025-07-20"), ("2025-05-09",))

    assert standing(document, DETECTION, "S1", "2025-07-25") == "overdue"


def test_a_delivery_without_a_look_before_it_is_the_breach():
    """40 CFR 280.36(a)(1)(i): before each delivery; a look of the day of the delivery before answers that one."""
    document = marina(("2025-03-01", "2025-05-10"), ("2025-03-01",))

    assert standing(document, BEFORE, "D2", "2025-05-11") == "overdue"


def test_a_delivery_that_comes_within_thirty_days_brings_the_thirty_days_back():
    """40 CFR 280.36(a)(1)(i): intervals greater than every 30 days; exactly 30 is not greater."""
    document = marina(("2025-03-01", "2025-05-10", "2025-06-09"), ("2025-05-09",))

    assert standing(document, BEFORE, "D3", "2025-06-20") == "not required"
    assert standing(document, SPILL, "X1", "2025-06-20") == "overdue"


def test_31_days_between_deliveries_are_greater_than_30():
    """40 CFR 280.36(a)(1)(i): the exception begins with the thirty-first day."""
    document = marina(("2025-03-01", "2025-05-10", "2025-06-10"), ("2025-05-09", "2025-06-10"))

    assert standing(document, BEFORE, "D3", "2025-06-20") == "met"
    assert standing(document, SPILL, "X1", "2025-06-20") == "not required"


def test_without_an_election_the_thirty_days_stand():
    """40 CFR 280.36(a)(1)(i): the exception is one that the owner takes."""
    document = marina(("2025-03-01", "2025-05-10", "2025-07-20"), ("2025-05-09",), elected=None)

    assert standing(document, SPILL, "X1", "2025-07-25") == "overdue"


def test_the_first_delivery_has_no_gap_that_anybody_knows():
    """40 CFR 280.36(a)(1)(i): without the delivery before, nobody can say how far apart they are."""
    document = marina(("2025-05-10",), ())

    assert standing(document, BEFORE, "D1", "2025-05-11") == "cannot decide"


def test_a_walk_that_skipped_the_spill_area_does_not_count_for_it():
    """40 CFR 280.36(b): the record lists each area checked."""
    document = marina((), (), elected="every 30 days")
    document["records"] = walked("2025-06-20", areas=("release detection",))

    assert standing(document, SPILL, "X1", "2025-06-25") == "no record"
    assert standing(document, DETECTION, "S1", "2025-06-25") in ("met", "due soon")

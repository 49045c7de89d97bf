"""Operators, closure and financial responsibility: cover without a gap, and who owes how much."""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import component, finding, record, site, standing


def operators(*rows: tuple[str, str, str | None], **lists: list) -> dict:
    """Class, day of taking up duties and last day, one row a designation."""
    people = [{"id": f"P{number}"} for number in range(1, len(rows) + 1)]
    designations = [
        {
            "id": f"O{number}",
            "person": f"P{number}",
            "operator_class": each[0],
            "assumed_duties_on": each[1],
            "ended_on": each[2],
        }
        for number, each in enumerate(rows, start=1)
    ]
    return site(people=people, designations=designations, **lists)


@pytest.mark.parametrize(
    ("classes", "class_a", "class_b"),
    [
        ((), "no record", "no record"),
        (("A",), "met", "no record"),
        (("B",), "no record", "met"),
        (("A", "B"), "met", "met"),
        (("A/B",), "met", "met"),
        (("C",), "no record", "no record"),
    ],
)
def test_both_classes_are_wanted_and_one_person_may_hold_both(classes, class_a, class_b):
    """40 CFR 280.241(a)."""
    document = operators(*[(each, "2020-01-01", None) for each in classes])

    assert standing(document, "designate-a-b", "F1", "2025-07-01") == class_a
    assert standing(document, "designate-class-b", "F1", "2025-07-01") == class_b


def test_the_last_day_of_a_designation_is_covered_and_the_next_is_not():
    """40 CFR 280.241(a): at every moment."""
    document = operators(("A/B", "2020-01-01", "2025-06-30"))

    assert standing(document, "designate-a-b", "F1", "2025-06-30") in ("met", "due soon")
    assert standing(document, "designate-a-b", "F1", "2025-07-01") == "overdue"


def test_nobody_had_to_be_designated_before_october_2018():
    """40 CFR 280.240."""
    assert standing(operators(), "designate-a-b", "F1", "2018-10-12") == "not required"


def test_a_certificate_for_one_class_does_not_serve_both():
    """40 CFR 280.242: a person of several classes trains for each."""
    document = operators(("A/B", "2025-05-01", None))
    document["records"] = [record("operator-training", "2025-05-10", subject="P1", operator_class="A")]

    assert standing(document, "train-a-b", "O1", "2025-06-15") == "overdue"


def test_a_certificate_for_both_classes_serves_each():
    """40 CFR 280.242."""
    document = operators(("B", "2025-05-01", None))
    document["records"] = [record("operator-training", "2025-05-10", subject="P1", operator_class="A/B")]

    assert standing(document, "train-a-b", "O1", "2025-06-15") == "met"


def test_operators_of_before_had_until_october_2018():
    """40 CFR 280.243(a)."""
    document = operators(("A", "2012-03-01", None))

    assert finding(document, "train-a-b", "O1", "2018-10-13").due == date(2018, 10, 13)


@pytest.mark.parametrize("reason", [{"facility": {"annual_refresher": True}}, {"waived": True}])
def test_retraining_falls_away_with_yearly_refreshers_or_the_agencys_word(reason):
    """40 CFR 280.244, two exceptions."""
    row = {
        "id": "AF1",
        "type": "non-compliance",
        "determined_on": "2025-05-01",
        "retraining_waived": reason.get("waived"),
    }
    document = site(facility=reason.get("facility"), findings=[row])

    assert standing(document, "retrain-a-b", "AF1", "2025-07-01") == "not required"


def covered(per_occurrence: int, aggregate: int, **facility: object) -> dict:
    cover = {
        "id": "D1",
        "type": "financial responsibility",
        "issued_on": "2025-01-01",
        "expires_on": "2025-12-31",
        "per_occurrence_usd": per_occurrence,
        "annual_aggregate_usd": aggregate,
    }
    return site(facility=facility, documents=[cover])


SMALL = {"petroleum_marketing": False, "previous_year_monthly_gal": 10_000}
M, HALF = 1_000_000, 500_000


@pytest.mark.parametrize(
    ("document", "enough"),
    [
        (covered(M, 2 * M, petroleum_marketing=True, owner_tank_count=101), True),
        (covered(M, M, petroleum_marketing=True, owner_tank_count=101), False),
        (covered(M, M, petroleum_marketing=True, owner_tank_count=100), True),
        (covered(M - 1, M, petroleum_marketing=True, owner_tank_count=100), False),
        (covered(HALF, M, owner_tank_count=100, **SMALL), True),
        (covered(HALF, M, owner_tank_count=101, **SMALL), False),
        (covered(HALF, 2 * M, owner_tank_count=101, **SMALL), True),
        (covered(HALF, M, owner_tank_count=4, **{**SMALL, "previous_year_monthly_gal": 10_001}), False),
        (covered(HALF, M, owner_tank_count=4, **{**SMALL, "petroleum_marketing": True}), False),
    ],
)
def test_the_amounts_follow_marketing_throughput_and_the_count_of_tanks(document, enough):
    """40 CFR 280.93(a)(1), (2) and (b)(1), (2)."""
    assert (standing(document, "fr-maintain", "F1", "2025-07-01") == "met") == enough


def test_smaller_amounts_are_never_taken_to_be_enough_while_the_facts_are_unknown():
    """40 CFR 280.93(a): neither marketing nor throughput is stated."""
    assert standing(covered(HALF, M), "fr-maintain", "F1", "2025-07-01") == "cannot decide"


def test_cover_ends_with_its_last_day():
    """40 CFR 280.93: at all times."""
    document = covered(M, M, owner_tank_count=2)

    assert standing(document, "fr-maintain", "F1", "2025-12-31") in ("met", "due soon")
    assert standing(document, "fr-maintain", "F1", "2026-01-01") == "overdue"


def test_new_cover_answers_a_cancellation():
    """40 CFR 280.109(b)."""
    event = {
        "id": "E1",
        "type": "cover cancelled",
        "at": "2025-05-01T10:00",
        "notice_received_on": "2025-05-01",
    }
    cover = {"id": "D2", "type": "financial responsibility", "issued_on": "2025-06-20"}
    document = site(events=[event], documents=[cover])

    assert standing(document, "fr-alternate-after-cancel", "E1", "2025-06-19") == "due soon"
    assert standing(document, "fr-alternate-after-cancel", "E1", "2025-07-01") == "met"


def closed_since(day: str, **system: object) -> dict:
    change = {"of": "S1", "on": day, "status": "temporarily out of service", "residue_in": 0.5}
    return site(system=system, changes=[change])


def test_a_substandard_system_has_twelve_months():
    """40 CFR 280.70(c): due on the anniversary, overdue the day after; from 29 February it is the 28th."""
    document = closed_since("2024-02-29", meets_new_or_upgraded_standard=False)

    assert finding(document, "temp-close-12-months", "S1", "2025-02-28").due == date(2025, 2, 28)
    assert standing(document, "temp-close-12-months", "S1", "2025-03-01") == "overdue"


def test_a_system_up_to_the_standard_may_stay_closed():
    """40 CFR 280.70(c): no federal end date."""
    document = closed_since("2020-01-01", meets_new_or_upgraded_standard=True)

    assert standing(document, "temp-close-12-months", "S1", "2025-07-01") == "not required"


def test_an_extension_without_a_site_assessment_is_not_counted():
    """40 CFR 280.70(c): assessed before it is applied for."""
    document = closed_since("2024-06-01", meets_new_or_upgraded_standard=False)
    document["records"] = [
        record("closure-extension-granted", "2025-05-01", subject="S1", site_assessed=False)
    ]

    found = finding(document, "temp-close-12-months", "S1", "2025-06-02")

    assert found.standing == "overdue"
    assert len(found.not_counted) == 1


def test_closure_in_answer_to_corrective_action_needs_no_notice():
    """40 CFR 280.71(a)."""
    plan = {
        "id": "PL1",
        "type": "permanent closure",
        "planned_on": "2025-08-01",
        "corrective_action": True,
    }

    assert standing(site(plans=[plan]), "closure-notice", "PL1", "2025-07-30") == "not required"


def test_a_registration_of_after_first_use_shows_that_the_notice_was_sent():
    """40 CFR 280.22(a): an older registration of the site says nothing of a newer system."""
    system = {"brought_into_use_on": "2025-05-01"}
    later = site(system=system, documents=[{"id": "D1", "type": "registration", "issued_on": "2025-05-20"}])
    earlier = site(system=system, documents=[{"id": "D1", "type": "registration", "issued_on": "2019-05-20"}])

    assert standing(later, "new-ust-notice", "S1", "2025-07-01") == "met"
    assert standing(earlier, "new-ust-notice", "S1", "2025-07-01") == "overdue"


@pytest.mark.parametrize(
    ("ethanol", "biodiesel", "expected"),
    [(10, 20, "not required"), (10.5, 20, "no record"), (0, 21, "no record"), (None, 5, "cannot decide")],
)
def test_proof_of_compatibility_is_wanted_above_e10_and_b20(ethanol, biodiesel, expected):
    """40 CFR 280.32(b): more than 10 percent ethanol or more than 20 percent biodiesel."""
    document = site(component("tank", ethanol_pct=ethanol, biodiesel_pct=biodiesel))

    assert standing(document, "compatibility-proof", "X1", "2025-07-01") == expected

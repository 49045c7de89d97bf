"""How long records are kept: five kinds of period, and what nobody can tell is kept."""

import pytest

from compliance.rules.document import read_document
from compliance.rules.retention import retention
from tests.compliance.rulepacks.federal import component, moment, packs, record, site


def kept(document: dict, rule: str, subject: str, on: str) -> str:
    """ "keep" or "may go"."""
    answers = retention(read_document(document), packs(), at=moment(on))
    [answer] = [each.standing for each in answers if (each.rule, each.subject) == (rule, subject)]
    return answer


def held(activity: str, *days: str, kind: str = "tank", **measurements: object) -> dict:
    """Records R1, R2, ... of one activity on those days."""
    rows = [record(activity, on, id=f"R{number}", **measurements) for number, on in enumerate(days, start=1)]
    return site(component(kind), records=rows)


AGES = [
    ("rec-monitoring", "280.45(b)", "tank-monitoring-result", "2024-06-30", "2025-06-30", "2025-07-01"),
    ("rec-annual-operation", "280.45(b)(1)", "controller-test", "2022-06-30", "2025-06-30", "2025-07-01"),
    ("rec-walkthrough", "280.36(b)", "walkthrough", "2024-06-30", "2025-06-30", "2025-07-01"),
    (
        "rec-spill-sump-overfill",
        "280.35(c)(1)",
        "spill-bucket-test",
        "2022-06-30",
        "2025-06-30",
        "2025-07-01",
    ),
    ("rec-closure", "280.74", "permanent-closure", "2022-06-30", "2025-06-30", "2025-07-01"),
    ("rec-monitoring", "280.45(b)", "inventory-month", "2024-02-29", "2025-02-28", "2025-03-01"),
]


@pytest.mark.parametrize(("rule", "paragraph", "activity", "done", "last", "after"), AGES)
def test_a_record_with_an_age_is_kept_through_its_last_day(rule, paragraph, activity, done, last, after):
    document = held(activity, done)

    assert kept(document, rule, "R1", last) == "keep", paragraph
    assert kept(document, rule, "R1", after) == "may go", paragraph


def test_a_tank_test_is_kept_until_the_next_however_old():
    """40 CFR 280.45(b)(2)."""
    assert kept(held("tank-tightness-test", "2015-01-01"), "rec-tank-tightness", "R1", "2025-07-01") == "keep"
    both = held("tank-tightness-test", "2015-01-01", "2020-01-01")
    assert kept(both, "rec-tank-tightness", "R1", "2025-07-01") == "may go"
    assert kept(both, "rec-tank-tightness", "R2", "2025-07-01") == "keep"


def test_a_line_test_is_kept_a_year_and_until_the_next():
    """40 CFR 280.45(b): a year; until the next, or a three-year cycle could not be shown."""
    alone = held("line-tightness-test", "2022-01-01", kind="piping_run")
    soon = held("line-tightness-test", "2025-01-01", "2025-03-01", kind="piping_run")

    assert kept(alone, "rec-line-tightness", "R1", "2025-07-01") == "keep"
    assert kept(soon, "rec-line-tightness", "R1", "2025-07-01") == "keep"
    assert kept(soon, "rec-line-tightness", "R1", "2026-01-02") == "may go"


def test_the_last_two_cathodic_tests_are_kept_although_they_span_six_years():
    """40 CFR 280.31(d)(2)."""
    document = held(
        "cathodic-protection-test", "2018-01-01", "2021-01-01", "2024-01-01", kind="cathodic_protection"
    )

    answers = [kept(document, "rec-cp-tests", each, "2025-07-01") for each in ("R1", "R2", "R3")]

    assert answers == ["may go", "keep", "keep"]


def test_the_last_three_rectifier_checks_are_kept():
    """40 CFR 280.31(d)(1)."""
    days = ("2025-01-01", "2025-02-25", "2025-04-20", "2025-06-15")
    document = held("rectifier-check", *days, kind="cathodic_protection")

    answers = [kept(document, "rec-cp-60day", each, "2025-07-01") for each in ("R1", "R2", "R3", "R4")]

    assert answers == ["may go", "keep", "keep", "keep"]


def test_a_repair_is_kept_until_what_was_repaired_is_closed():
    """40 CFR 280.33(g): a temporary closure ends nothing."""
    document = held("repair", "2005-01-01")
    document["changes"] = [
        {"of": "X1", "on": "2020-01-01", "status": "temporarily out of service"},
        {"of": "X1", "on": "2025-01-01", "status": "closed in place"},
    ]

    assert kept(document, "rec-repair", "R1", "2024-12-31") == "keep"
    assert kept(document, "rec-repair", "R1", "2025-01-01") == "may go"


def test_training_proof_is_kept_while_the_person_is_designated():
    """40 CFR 280.245(b)."""
    row = {"id": "O1", "person": "P1", "operator_class": "A", "ended_on": "2025-06-30"}
    document = site(people=[{"id": "P1"}], designations=[row])

    assert kept(document, "rec-operators", "O1", "2025-06-30") == "keep"
    assert kept(document, "rec-operators", "O1", "2025-07-01") == "may go"


@pytest.mark.parametrize(("watched", "answer"), [(True, "keep"), (None, "keep"), (False, "may go")])
def test_checks_of_both_walls_are_kept_while_they_stand_in_for_the_test(watched, answer):
    """40 CFR 280.35(c)(2): as long as both walls are monitored; where nobody says, they are kept."""
    document = site(
        component("spill_bucket", both_walls_monitored=watched),
        records=[record("both-walls-check", "2018-01-01", id="R1")],
    )

    assert kept(document, "rec-dual-wall", "R1", "2025-07-01") == answer


@pytest.mark.parametrize(
    ("type", "rule"),
    [("performance claim", "rec-performance-claims"), ("maintenance schedule", "rec-maker-schedules")],
)
def test_makers_papers_are_kept_five_years(type, rule):
    """40 CFR 280.45(a), (c)."""
    document = site(documents=[{"id": "D1", "type": type, "issued_on": "2020-06-30"}])

    assert kept(document, rule, "D1", "2025-06-30") == "keep"
    assert kept(document, rule, "D1", "2025-07-01") == "may go"


@pytest.mark.parametrize(
    ("ethanol", "biodiesel", "answer"),
    [(10.5, 0, "keep"), (10, 20, "may go"), (0, 20.5, "keep"), (None, 0, "keep")],
)
def test_proof_of_compatibility_is_kept_while_the_fuel_is_stored(ethanol, biodiesel, answer):
    """40 CFR 280.32(c)."""
    proof = {"id": "D1", "type": "compatibility proof", "subject": "X1", "issued_on": "2016-01-01"}
    document = site(component("tank", ethanol_pct=ethanol, biodiesel_pct=biodiesel), documents=[proof])

    assert kept(document, "rec-compat", "D1", "2025-07-01") == answer


@pytest.mark.parametrize(
    ("method", "answer"), [("vapor monitoring", "keep"), ("automatic tank gauging", "may go")]
)
def test_a_site_assessment_is_kept_while_its_method_is_used(method, answer):
    """40 CFR 280.43(e)(6), (f)(7) with 280.45(a)."""
    assessment = {"id": "D1", "type": "site assessment", "subject": "X1", "issued_on": "2010-01-01"}
    document = site(component("tank", release_detection=[method]), documents=[assessment])

    assert kept(document, "rec-site-assessment", "D1", "2025-07-01") == answer


def test_servicing_of_monitoring_equipment_is_kept_a_year_and_other_repairs_longer():
    """40 CFR 280.45(c) beside 280.33(g)."""
    document = held("repair", "2024-01-10", kind="sensor")

    assert kept(document, "rec-calibration", "R1", "2025-01-11") == "may go"
    assert kept(document, "rec-repair", "R1", "2025-01-11") == "keep"


@pytest.mark.parametrize("type", ["financial responsibility", "financial responsibility certification"])
def test_proof_of_cover_is_kept_until_the_site_is_closed(type):
    """40 CFR 280.111(a), 280.113."""
    document = site(documents=[{"id": "D1", "type": type, "issued_on": "2010-01-01"}])
    document["changes"] = [{"of": "F1", "on": "2025-01-01", "status": "closed general"}]

    assert kept(document, "rec-fr", "D1", "2024-12-31") == "keep"
    assert kept(document, "rec-fr", "D1", "2025-01-01") == "may go"

"""The form for a new system, and the one-time notice of systems that the rule of 2015 took in."""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import component, finding, lacks, record, site, standing

CERTIFIED, DEFERRED = "installation-certified", "previously-deferred-notice"


def new_system(**lists: list) -> dict:
    return site(system={"brought_into_use_on": "2025-05-01"}, **lists)


def registered(on: str) -> list[dict]:
    return [{"id": "D1", "type": "registration", "issued_on": on}]


def test_the_installation_is_certified_with_the_form_of_thirty_days():
    """40 CFR 280.22(a), (e), (f): the certification stands on the form."""
    assert finding(new_system(), CERTIFIED, "S1", "2025-05-31").due == date(2025, 5, 31)
    assert standing(new_system(), CERTIFIED, "S1", "2025-06-01") == "overdue"


def test_a_certificate_of_before_first_use_is_good():
    """40 CFR 280.20(e): an installer certifies what was installed."""
    done = record(
        "document-filed", "2025-04-20", subject=None, outcome=None, filing="installation certification"
    )

    assert standing(new_system(records=[done]), CERTIFIED, "S1", "2025-07-01") == "met"


@pytest.mark.parametrize(("issued", "expected"), [("2025-05-01", "met"), ("2025-04-30", "overdue")])
def test_a_registration_shows_the_certification_if_it_is_not_older_than_the_system(issued, expected):
    """40 CFR 280.22(e): the form that led to it carries the certification."""
    assert standing(new_system(documents=registered(issued)), CERTIFIED, "S1", "2025-07-01") == expected


def deferred(**fields: object) -> dict:
    tank = {"brought_into_use_on": "2015-10-13", "field_constructed": False, "airport_hydrant_system": False}
    return site(component("tank", **{**tank, **fields}))


@pytest.mark.parametrize("feature", ["field_constructed", "airport_hydrant_system"])
def test_a_formerly_deferred_system_had_until_october_2018(feature):
    """40 CFR 280.251(b)."""
    document = deferred(**{feature: True})

    assert finding(document, DEFERRED, "X1", "2018-10-13").due == date(2018, 10, 13)
    assert standing(document, DEFERRED, "X1", "2018-10-13") == "due soon"
    assert standing(document, DEFERRED, "X1", "2018-10-14") == "overdue"


@pytest.mark.parametrize("feature", ["field_constructed", "airport_hydrant_system"])
def test_a_system_of_after_the_rule_gives_the_ordinary_notice(feature):
    """40 CFR 280.251(b): in use when the rule took effect, 13 October 2015."""
    document = deferred(**{feature: True, "brought_into_use_on": "2015-10-14"})

    assert standing(document, DEFERRED, "X1", "2025-07-01") == "not required"


def test_an_ordinary_tank_owes_no_such_notice_and_an_unstated_one_names_the_fact():
    """40 CFR 280.251(b)."""
    unstated = finding(deferred(field_constructed=None), DEFERRED, "X1", "2025-07-01")

    assert standing(deferred(), DEFERRED, "X1", "2025-07-01") == "not required"
    assert unstated.standing == "cannot decide"
    assert lacks(unstated, "field_constructed")


def test_a_class_c_operator_of_before_had_until_october_2018():
    """40 CFR 280.240, 280.243(c)."""
    row = {"id": "O1", "person": "P1", "operator_class": "C", "assumed_duties_on": "2012-03-01"}
    document = site(people=[{"id": "P1"}], designations=[row])

    assert finding(document, "train-c", "O1", "2018-10-13").due == date(2018, 10, 13)

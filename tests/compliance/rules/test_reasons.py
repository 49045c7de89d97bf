"""Why a duty is not required: asked for, it says so in words, with the fact that decides."""

import pytest

from tests.compliance.rulepacks.federal import component, finding, site

BUCKET_RULE = "spill-bucket-tightness-3y"


def reason(document: dict, rule: str, subject: str = "X1", on: str = "2026-03-04") -> str:
    found = finding(document, rule, subject, on)
    assert found.standing == "not required"
    assert found.reason in found.sentence
    return found.reason


def test_a_proven_exemption_is_named_with_its_fact():
    """40 CFR 280.10(b): excluded systems owe nothing under the part."""
    told = reason(
        site(component("spill_bucket", "X1", "T1"), component("tank", "T1", federally_regulated=False)),
        BUCKET_RULE,
    )

    assert "exemption" in told
    assert "federally regulated is false" in told


@pytest.mark.parametrize("status", ["closed in place", "closed removed from ground"])
def test_a_closed_place_owes_nothing(status):
    """40 CFR 280.71: permanent closure ends the duties of operation."""
    document = site(component("spill_bucket"), changes=[{"of": "S1", "on": "2025-01-01", "status": status}])

    assert reason(document, BUCKET_RULE) == f"it is {status}"


def test_a_condition_that_is_not_met_shows_the_value_that_was_read():
    """40 CFR 280.21(b)(1)(ii): only a lined tank is inspected inside."""
    assert (
        reason(site(component("tank")), "lining-inspection") == "it does not apply (lined on is not stated)"
    )


def test_the_other_choice_of_a_group_is_named():
    """40 CFR 280.41(b)(1)(i)(B): an annual line test or monthly monitoring."""
    line = component("piping_run", piping_style="pressure", elected_piping_release_detection="line tightness")

    assert reason(site(line), "pressurised-line-monthly-monitoring") == "the choice is line tightness"


def test_a_duty_that_is_required_has_no_reason():
    assert finding(site(component("spill_bucket")), BUCKET_RULE, "X1", "2026-03-04").reason == ""

"""What an agency determined and decided. Findings start the retraining clock of 40 CFR 280.244; many clocks of
Part 280 allow "another reasonable time period" that the agency sets (280.50, 280.53, 280.61 among others)."""

from datetime import timedelta

import pytest

from equipment.faults import Conflict, Invalid
from equipment.models import AgencyOverride
from equipment.queries import agency_findings_of, agency_overrides_of
from equipment.services.papers import state_agency_finding, state_agency_override
from equipment.services.stating import withdraw_fact
from tests import world
from tests.equipment.statements import document, faults_of, told
from tests.world import NOW, TODAY


def override(at, letter, *, component=None, **fields):
    return state_agency_override(
        **told(at),
        component=component,
        document=letter,
        params={"interval": "2 years"},
        fields={"rule": "spill-bucket-test", **fields},
    )


def test_a_finding_is_on_file_with_the_day_of_its_determination(own):
    state_agency_finding(**told(own), fields={"type": "non-compliance", "determined_on": TODAY})

    [kept] = agency_findings_of([own.pk])[own.pk]
    assert (kept.type, kept.determined_on, kept.retraining_waived) == ("non-compliance", TODAY, None)


@pytest.mark.parametrize("day", ["determined_on", "served_on"])
def test_an_agency_has_not_determined_anything_tomorrow(own, day):
    with pytest.raises(Invalid) as refusal:
        state_agency_finding(**told(own), fields={"type": "order", day: TODAY + timedelta(days=1)})

    assert faults_of(refusal) == {f"/{day}": "future"}


def test_a_decision_rests_on_the_agencys_letter(own):
    world.line(own)
    letter = document(own, "agency letter")

    override(own, letter.pk, component="SB1", from_on=TODAY)

    [kept] = agency_overrides_of([own.pk])[own.pk]
    assert str(kept.component) == "SB1 (spill bucket)"
    assert (kept.document, kept.params) == (letter, {"interval": "2 years"})


def test_without_a_letter_at_this_facility_there_is_no_decision(own, foreign):
    elsewhere = document(foreign, "agency letter")

    with pytest.raises(Invalid) as refusal:
        override(own, elsewhere.pk, component="SB9")

    assert faults_of(refusal) == {"/document": "unknown", "/component": "unknown"}


def test_a_letter_that_a_decision_rests_on_is_not_withdrawn(own, owner):
    letter = document(own, "agency letter")
    decided = override(own, letter.pk)
    withdrawal = {"organisation": owner, "reason": "scanned twice", "by": "test", "now": NOW}

    with pytest.raises(Conflict) as refusal:
        withdraw_fact(fact=letter, **withdrawal)
    withdraw_fact(fact=decided, **withdrawal)

    assert refusal.value.members == {"override": decided.pk}
    assert withdraw_fact(fact=letter, **withdrawal).withdrawn_at == NOW


def test_a_withdrawn_letter_carries_no_decision(own, owner):
    letter = document(own, "agency letter")
    withdraw_fact(fact=letter, organisation=owner, reason="forged", by="test", now=NOW)

    with pytest.raises(Invalid):
        override(own, letter.pk)

    assert AgencyOverride.objects.count() == 0


def test_a_decision_does_not_end_before_it_began(own):
    letter = document(own, "agency letter")

    with pytest.raises(Invalid) as refusal:
        override(own, letter.pk, from_on=TODAY, to_on=TODAY - timedelta(days=1))

    assert faults_of(refusal) == {"/to_on": "constraint"}

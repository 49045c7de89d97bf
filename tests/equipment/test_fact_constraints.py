"""What the database itself refuses about people, papers, fuel and plans, whoever writes: on SQLite and PostgreSQL."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from equipment import models
from equipment.models.facility_facts import FacilityFact
from equipment.services.checking import MEANING
from tests import world
from tests.equipment.statements import delivery, designation, document, person, plan, spill
from tests.world import NOW, TODAY

YESTERDAY = TODAY - timedelta(days=1)
KINDS = [model for model in FacilityFact.__subclasses__() if model._meta.app_label == "equipment"]


def row(model, at, **fields):
    """Written past every service."""
    return model.objects.create(
        facility=at, submitted_by=at.operator, recorded_at=NOW, recorded_by="test", **fields
    )


@pytest.mark.parametrize(
    ("model", "fields"),
    [
        (models.Document, {"type": ""}),
        (models.Document, {"type": "x", "issued_on": TODAY, "expires_on": YESTERDAY}),
        (models.Document, {"type": "x", "per_occurrence_usd": -1}),
        (models.Document, {"type": "x", "ended_on": TODAY}),
        (models.Delivery, {"started_on": TODAY, "ended_on": YESTERDAY}),
        (models.Delivery, {"started_on": TODAY, "delivered_gal": -1}),
        (models.Delivery, {"started_on": TODAY, "ended_at": NOW}),
        (models.Spill, {"discovered_on": TODAY, "gal_to_environment": -1}),
        (models.Release, {"confirmed_on": TODAY, "identified_at": NOW}),
        (models.AgencyFinding, {"type": "gossip"}),
        (models.Plan, {"type": "", "planned_on": TODAY}),
        (models.Plan, {"type": "fuel switch", "planned_on": TODAY, "to_ethanol_pct": 101}),
        (models.SiteEvent, {"type": "regatta", "happened_on": TODAY}),
    ],
)
def test_a_row_that_can_never_be_true_is_refused(own, model, fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        row(model, own, **fields)

    assert not model.objects.exists()


@pytest.mark.parametrize(
    "fields",
    [
        {"operator_class": "D"},
        {"operator_class": "A", "assumed_duties_on": TODAY, "ended_on": YESTERDAY},
    ],
)
def test_a_designation_that_can_never_be_true_is_refused(own, owner, fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        row(models.Designation, own, person=person(owner), **fields)


def test_two_standing_designations_of_one_person_and_class_are_refused(own, owner):
    ames = person(owner)
    designation(own, ames, "C")

    with pytest.raises(IntegrityError), transaction.atomic():
        row(models.Designation, own, person=ames, operator_class="C")


def test_an_override_of_no_rule_is_refused(own):
    letter = document(own, "agency letter")

    with pytest.raises(IntegrityError), transaction.atomic():
        row(models.AgencyOverride, own, rule="", params={}, document=letter)


@pytest.mark.parametrize("stated", [document, delivery, plan])
def test_a_subject_of_another_facility_is_refused(own, foreign, stated):
    elsewhere = world.component(foreign, "tank", "T9")
    fact = stated(own)

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        fact.subjects.add(elsewhere)

    assert not fact.subjects.exists()


def test_a_subject_is_not_moved_to_another_facility(own, foreign):
    world.component(own, "tank", "T1")
    elsewhere = world.component(foreign, "tank", "T9")
    fact = document(own, subjects=("T1",))

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        fact.named.update(component=elsewhere)


@pytest.mark.parametrize("link", ["component", "document"])
def test_an_override_reaches_into_no_other_facility(own, foreign, link):
    links: dict[str, Any] = {"component": None, "document": document(own, "agency letter")}
    links[link] = (
        world.component(foreign, "tank", "T9") if link == "component" else document(foreign, "agency letter")
    )

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        row(models.AgencyOverride, own, rule="spill-report", params={"gal": 10}, **links)


def test_a_party_stands_once_at_a_spill(own):
    stated = spill(own)
    stated.known_by.create(party="operator", at=NOW)

    with pytest.raises(IntegrityError), transaction.atomic():
        stated.known_by.create(party="operator", at=NOW - timedelta(hours=1))


@pytest.mark.parametrize("fact", [document, delivery, spill, plan])
def test_a_withdrawal_without_a_reason_is_refused(own, fact):
    stated = fact(own)

    with pytest.raises(IntegrityError), transaction.atomic():
        type(stated).objects.filter(pk=stated.pk).update(withdrawn_at=NOW)


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_every_constraint_says_what_it_means(model):
    assert {one.name for one in model._meta.constraints} <= set(MEANING)

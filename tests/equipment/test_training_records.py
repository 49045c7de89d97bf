"""Training is recorded about the person who was trained: 40 CFR 280.243 asks it of each operator."""

from dataclasses import replace

import pytest

from equipment.faults import Invalid
from equipment.models import Record
from equipment.moments import Moment
from equipment.queries import people_of
from equipment.services.records import Deed, record_visit
from tests import world
from tests.equipment.statements import designation, faults_of, person
from tests.world import NOW, TODAY

TRAINING = Deed(
    activity="operator-training",
    performed=Moment(day=TODAY),
    outcome="pass",
    measurements={"operator_class": "C", "form": "field"},
)


def visit(site, sender, deed):
    return record_visit(facility=site, submitted_by=sender, entered_by="test", deeds=[deed], now=NOW)


def test_training_is_on_file_about_the_person(own, owner):
    ames = person(owner)

    visit(own, owner, replace(TRAINING, person=ames.pk))

    assert Record.objects.get().person == ames
    assert people_of([own.pk]) == {own.pk: [ames]}


def test_a_contractor_may_train_whoever_is_designated_there(own, owner, contractor):
    ames = person(owner)
    designation(own, ames, "C")

    [record] = visit(own, contractor, replace(TRAINING, person=ames.pk)).records

    assert record.person_id == ames.pk


def test_a_contractor_does_not_learn_who_else_works_for_the_owner(own, owner, contractor):
    ames = person(owner)

    with pytest.raises(Invalid) as refusal:
        visit(own, contractor, replace(TRAINING, person=ames.pk))
    with pytest.raises(Invalid) as of_nobody:
        visit(own, contractor, replace(TRAINING, person=ames.pk + 1000))

    assert faults_of(refusal) == faults_of(of_nobody) == {"/records/0/person": "unknown"}
    assert refusal.value.faults == of_nobody.value.faults


def test_a_bucket_test_is_about_no_person(own, owner):
    world.line(own)
    deed = Deed(
        activity="spill-bucket-test",
        performed=Moment(day=TODAY),
        subjects=("SB1",),
        outcome="pass",
        measurements={"method": "liquid"},
        person=person(owner).pk,
    )

    with pytest.raises(Invalid) as refusal:
        visit(own, owner, deed)

    assert faults_of(refusal) == {"/records/0/person": "wrong-kind"}


def test_the_same_training_of_two_people_is_two_reports(own, owner):
    one, other = person(owner), person(owner, "L. Baker")

    assert replace(TRAINING, person=one.pk).sha256() != replace(TRAINING, person=other.pk).sha256()


def test_training_through_the_api_names_the_person(own, owner, owner_client):
    ames = person(owner)
    record = {
        "activity": "operator-training",
        "person": ames.pk,
        "performed_at": "2026-02-27",
        "outcome": "pass",
        "measurements": {"operator_class": "C"},
        "external_id": "course-1",
    }

    answer = owner_client.post(f"/api/v1/facilities/{own.pk}/records", {"records": [record]}, format="json")

    assert answer.status_code == 201, answer.json()
    assert answer.json()["records"][0]["person"] == ames.pk

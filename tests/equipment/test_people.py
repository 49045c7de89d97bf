"""Operator classes and who holds them. Classes: 40 CFR 280.241; an A/B operator trains within 30 days of assuming
duties, a Class C operator before (280.243), so a designation may be stated ahead of its first day."""

from datetime import date, timedelta

import pytest

from equipment.faults import Conflict, Invalid
from equipment.models import Designation, Facility
from equipment.queries import designations_of, people_of
from equipment.services.stating import end_fact, withdraw_fact
from tests.equipment.statements import designation, faults_of, person
from tests.world import NOW, TODAY

TOMORROW = TODAY + timedelta(days=1)


def test_a_person_is_designated_from_a_coming_day(own, owner):
    named = designation(own, person(owner), assumed_duties_on=TOMORROW)

    assert (named.facility, named.assumed_duties_on, named.ended_on) == (own, TOMORROW, None)


def test_a_designation_raises_the_version_of_the_facts(own, owner):
    before = Facility.objects.get(pk=own.pk).facts_version

    designation(own, person(owner))

    assert Facility.objects.get(pk=own.pk).facts_version == before + 1


def test_an_operator_class_that_the_regulation_does_not_know_is_refused(own, owner):
    with pytest.raises(Invalid) as refusal:
        designation(own, person(owner), "D")

    assert "/operator_class" in faults_of(refusal)


def test_somebody_of_another_organisation_is_unknown_here(own, stranger):
    with pytest.raises(Invalid) as refusal:
        designation(own, person(stranger))

    assert faults_of(refusal) == {"/person": "unknown"}


def test_one_person_may_hold_two_classes_but_none_of_them_twice(own, owner):
    ames = person(owner)
    designation(own, ames, "A")
    designation(own, ames, "B")

    with pytest.raises(Invalid) as refusal:
        designation(own, ames, "A")

    assert faults_of(refusal) == {"/person": "taken"}


def test_who_left_may_come_back(own, owner):
    ames = person(owner)
    first = designation(own, ames, "A", assumed_duties_on=date(2020, 1, 1))
    end_fact(fact=first, ended_on=date(2022, 1, 1), by="test", now=NOW)

    designation(own, ames, "A", assumed_duties_on=date(2024, 1, 1))

    assert [one.ended_on for one in designations_of([own.pk])[own.pk]] == [date(2022, 1, 1), None]


def test_the_end_of_a_designation_is_stated_once(own, owner):
    named = designation(own, person(owner))
    end_fact(fact=named, ended_on=TODAY, by="R. Ames", now=NOW)

    end_fact(fact=named, ended_on=TODAY, by="somebody", now=NOW + timedelta(days=1))
    with pytest.raises(Conflict):
        end_fact(fact=named, ended_on=TOMORROW, by="somebody", now=NOW)

    kept = Designation.objects.get()
    assert (kept.ended_on, kept.end_recorded_by, kept.end_recorded_at) == (TODAY, "R. Ames", NOW)


def test_duties_do_not_end_before_they_began(own, owner):
    named = designation(own, person(owner), assumed_duties_on=TODAY)

    with pytest.raises(Invalid) as refusal:
        end_fact(fact=named, ended_on=TODAY - timedelta(days=1), by="test", now=NOW)

    assert faults_of(refusal) == {"/ended_on": "constraint"}
    assert Designation.objects.get().ended_on is None


def test_a_withdrawn_designation_is_not_ended(own, owner):
    named = designation(own, person(owner))
    withdraw_fact(fact=named, organisation=owner, reason="wrong person", by="test", now=NOW)

    with pytest.raises(Conflict):
        end_fact(fact=named, ended_on=TODAY, by="test", now=NOW)


def test_a_withdrawn_designation_no_longer_names_anybody(own, owner):
    named = designation(own, person(owner))
    withdraw_fact(fact=named, organisation=owner, reason="wrong person", by="test", now=NOW)

    assert designations_of([own.pk]) == {}
    assert people_of([own.pk]) == {}


def test_people_are_listed_at_each_facility_that_names_them_once(own, foreign, owner, stranger):
    ames, baker = person(owner, "R. Ames"), person(stranger, "L. Baker")
    designation(own, ames, "A")
    designation(own, ames, "B")
    designation(foreign, baker)

    assert people_of([own.pk, foreign.pk]) == {own.pk: [ames], foreign.pk: [baker]}

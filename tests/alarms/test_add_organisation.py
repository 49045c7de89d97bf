"""The first step on an empty database."""

import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from alarms.models import FallbackPerson
from equipment.models import Organisation
from equipment.services import keys


def test_an_organisation_is_on_file_and_its_key_works(db):
    out = StringIO()

    call_command("add_organisation", "Own Marinas", stdout=out)

    secret = re.search(r"once: (\S+)", out.getvalue())[1]
    actor = keys.actor_of(secret, now=timezone.now())
    assert (actor.organisation, actor.role) == (Organisation.objects.get(name="Own Marinas").pk, "manager")


def test_a_name_is_taken_once(owner):
    with pytest.raises(CommandError, match="on file already"):
        call_command("add_organisation", owner.name)


@pytest.mark.parametrize("days", [0, 401])
def test_a_key_that_lives_too_short_or_too_long_leaves_nothing_behind(db, days):
    with pytest.raises(CommandError, match="expires_at"):
        call_command("add_organisation", "Own Marinas", key_days=days)

    assert not Organisation.objects.exists()


def called(*people: str, kind: str = "operator") -> str:
    out = StringIO()
    call_command("add_organisation", "Own Marinas", kind=kind, call=list(people), stdout=out)
    return out.getvalue()


def test_whom_to_tell_of_alarms_is_stated_at_once(db):
    said = called("R. Ames <r.ames@example.org>", "dock@example.org")

    people = FallbackPerson.objects.order_by("position").values_list("contact__name", "contact__email")
    assert list(people) == [("R. Ames", "r.ames@example.org"), ("dock@example.org", "dock@example.org")]
    assert "Told of alarms: R. Ames <r.ames@example.org>" in said


def test_without_anybody_it_says_that_nobody_is_told_and_how_to_change_that(db):
    said = called()

    assert "Nobody is told of alarms yet" in said
    assert f"/organisations/{Organisation.objects.get().pk}/fallback-people" in said


@pytest.mark.parametrize("person", ["R. Ames", "R. Ames <r.ames>", "", f"{'x' * 101} <x@example.org>"])
def test_somebody_without_a_good_address_leaves_nothing_behind(person, db):
    with pytest.raises(CommandError, match="--call"):
        called(person)

    assert not Organisation.objects.exists()


def test_only_an_operator_names_people(db):
    with pytest.raises(CommandError, match="only an operator"):
        called("R. Ames <r.ames@example.org>", kind="contractor")

    assert not Organisation.objects.exists()

"""Versions of register rows. RFC 9110, 13.1.1 (If-Match compares strongly; `*`) and 8.8.3 (tags); RFC 6585 (428)."""

import pytest

from equipment.faults import Stale
from equipment.models import Facility
from equipment.services.register import correct_component, correct_facility
from tests import world
from tests.equipment.api.calls import at, patch, problem


@pytest.fixture(params=["facility", "component"])
def address(request, own) -> str:
    world.component(own, "tank", "T1")
    return at(own) if request.param == "facility" else at(own, "/components/T1")


def test_a_change_without_if_match_is_refused(address, owner_client):
    refused = owner_client.patch(address, {"installed_on": None}, format="json")

    assert problem(refused) == (428, "precondition-required")
    assert owner_client.get(address).headers["ETag"] in refused.json()["detail"]


def test_a_change_of_an_older_version_is_refused(address, owner_client):
    seen = owner_client.get(address).headers["ETag"]
    patch(owner_client, address, {}, match=seen)

    assert problem(patch(owner_client, address, {}, match=seen)) == (412, "changed-meanwhile")


def test_a_star_matches_whatever_is_there(address, owner_client):
    assert patch(owner_client, address, {}, match="*").status_code == 200


def test_one_of_several_tags_is_enough(address, owner_client):
    seen = owner_client.get(address).headers["ETag"]

    assert patch(owner_client, address, {}, match=f'"other", {seen}').status_code == 200


@pytest.mark.parametrize("spoil", ["W/{}", "{}x", "v1", '""', ""])
def test_a_weak_or_malformed_tag_never_matches(spoil, address, owner_client):
    seen = owner_client.get(address).headers["ETag"]

    assert problem(patch(owner_client, address, {}, match=spoil.format(seen))) == (412, "changed-meanwhile")


def test_the_tag_is_a_quoted_text(address, owner_client):
    tag = owner_client.get(address).headers["ETag"]

    assert tag[0] == tag[-1] == '"'
    assert '"' not in tag[1:-1]


def test_a_refused_version_leaves_the_row_alone(address, owner_client):
    before = owner_client.get(address).json()

    patch(
        owner_client, address, {"note": "x"} if "components" in address else {"attended": True}, match='"v9"'
    )

    assert owner_client.get(address).json() == before


def test_somebody_who_was_quicker_between_check_and_lock_is_not_overwritten(own):
    """Both read version 1; the second to get the lock must notice."""
    slow = Facility.objects.get(pk=own.pk)
    correct_facility(facility=Facility.objects.get(pk=own.pk), fields={"attended": True})

    with pytest.raises(Stale):
        correct_facility(facility=slow, fields={"attended": False})

    assert Facility.objects.get(pk=own.pk).attended is True


def test_the_same_holds_for_components(own):
    slow = world.component(own, "tank", "T1")
    correct_component(component=type(slow).objects.get(pk=slow.pk), fields={"note": "first"})

    with pytest.raises(Stale):
        correct_component(component=slow, fields={"note": "second"})

    assert type(slow).objects.get(pk=slow.pk).note == "first"

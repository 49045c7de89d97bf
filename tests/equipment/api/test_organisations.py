"""Whom one meets: own organisations and those that share a facility, now."""

from datetime import timedelta

from tests import world
from tests.conftest import client_of

ADDRESS = "/api/v1/organisations"


def names(client) -> list[str]:
    return sorted(one["name"] for one in client.get(ADDRESS).json()["results"])


def test_owner_and_contractor_meet_and_the_stranger_meets_nobody(
    own, foreign, owner_client, contractor_client, stranger_client
):
    assert names(owner_client) == ["Granted Service", "Own Marinas"]
    assert names(contractor_client) == ["Granted Service", "Own Marinas"]
    assert names(stranger_client) == ["Strange Marinas"]


def test_whose_grant_has_ended_is_no_longer_met(own, owner_client):
    past = world.organisation("Former Service", "contractor")
    world.grant(past, own, ends_at=world.NOW - timedelta(days=1))

    assert "Former Service" not in names(owner_client)
    assert names(client_of(past)) == ["Former Service"]


def test_it_says_which_one_is_yours_and_in_what_role(own, owner_client):
    roles = {one["name"]: one["your_role"] for one in owner_client.get(ADDRESS).json()["results"]}

    assert roles == {"Granted Service": None, "Own Marinas": "manager"}

"""A stranger's key knocks on every address, with every verb. A new route is covered on its first day."""

import json
from datetime import timedelta

import pytest
from django.utils import timezone

from equipment.models import Facility
from tests.guards.routes import SHARED, Route, routes

ROUTES = routes()
OWNED = [(route, verb) for route in ROUTES for verb in route.verbs if route.parameters - SHARED]
LISTS = [route for route in ROUTES if "GET" in route.verbs and not route.parameters]


def knock(client, verb: str, path: str):
    headers = {"Idempotency-Key": "knock", "If-Match": "*"}
    return client.generic(verb, path, json.dumps({}), content_type="application/json", headers=headers)


def test_every_route_declares_what_right_each_verb_needs():
    assert not [str(route) for route in ROUTES if not route.verbs]


@pytest.mark.parametrize(("route", "verb"), OWNED, ids=str)
def test_to_a_stranger_nothing_of_the_owner_exists(route: Route, verb: str, ids, stranger_client):
    answer = knock(stranger_client, verb, route.filled(ids))

    assert answer.status_code == 404
    assert answer.headers["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize(("route", "verb"), OWNED, ids=str)
def test_without_a_key_nobody_learns_anything(route: Route, verb: str, ids, client):
    answer = knock(client, verb, route.filled(ids))

    assert answer.status_code == 401


@pytest.mark.parametrize("route", LISTS, ids=str)
def test_no_list_shows_a_stranger_what_is_the_owners(route: Route, ids, stranger_client, owner_client):
    path = route.filled({})

    seen = stranger_client.get(path).content.decode()

    assert "Marina OWN" not in seen
    assert "Own Marinas" not in seen


@pytest.mark.parametrize(("route", "verb"), OWNED, ids=str)
def test_a_grant_that_has_ended_is_no_grant(route: Route, verb: str, ids, own, contractor, contractor_client):
    contractor.grants.update(ends_at=timezone.now() - timedelta(seconds=1))

    assert knock(contractor_client, verb, route.filled(ids)).status_code == 404


@pytest.mark.parametrize("route", [one for one in ROUTES if one.parameters], ids=str)
def test_a_verb_that_a_route_does_not_declare_is_refused(route: Route, ids, owner_client):
    undeclared = next(verb for verb in ("DELETE", "PUT", "PATCH") if verb not in route.verbs)

    assert knock(owner_client, undeclared, route.filled(ids)).status_code == 405


def test_knocking_changed_nothing(ids, own, stranger_client):
    before = Facility.objects.values().get(pk=own.pk)

    for route, verb in OWNED:
        knock(stranger_client, verb, route.filled(ids))

    assert Facility.objects.values().get(pk=own.pk) == before

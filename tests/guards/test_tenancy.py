"""A stranger's key knocks on every address, with every verb. A new route is covered on its first day."""

import csv
import io
import json
from datetime import timedelta

import pytest
from django.utils import timezone

from equipment.models import Facility
from tests.guards.routes import SHARED, Route, routes

ROUTES = routes()
OWNED = [(route, verb) for route in ROUTES for verb in route.verbs if route.parameters - SHARED]
LISTS = [route for route in ROUTES if "GET" in route.verbs and not route.parameters]
# Catalogues: whoever asks is answered the same.
SAME_FOR_ALL = {"api/v1/activities", "api/v1/rosters/mappings", "api/v1/conditions", "api/v1/rules"}
# Lists in which a stranger without facilities still finds something of its own.
OF_EVERYBODY = {"api/v1/keys", "api/v1/organisations"}
# What was raised when the world of these tests was made.
WHEN = {"first": "2026-03-01", "last": "2026-03-31"}


def rows_of(route: Route, client) -> set[str]:
    """What names each row of a list."""
    answer = client.get(route.filled({}), WHEN if "first" in route.view.query_shape().fields else {})
    assert answer.status_code == 200
    if answer.headers["Content-Type"].startswith("text/csv"):
        table = csv.DictReader(io.StringIO(answer.content.decode()))
        return {row["facility"] for row in table if row["facility"]}  # the first row is the sum of all
    body = answer.json()
    rows = body["results"] if "results" in body else body["facilities"]
    return {str(row["id"] if "id" in row else row["facility"]) for row in rows}


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


@pytest.mark.parametrize("route", [one for one in LISTS if one.template not in SAME_FOR_ALL], ids=str)
def test_no_list_shows_a_stranger_what_is_the_owners(route: Route, ids, stranger_client, owner_client):
    seen, owned = (rows_of(route, client) for client in (stranger_client, owner_client))

    assert owned
    assert not seen & owned
    assert not seen or route.template in OF_EVERYBODY


@pytest.mark.parametrize("template", sorted(SAME_FOR_ALL))
def test_what_is_the_same_for_all_names_nobody(template, ids, stranger_client, owner_client):
    seen, owned = (client.get(f"/{template}").content for client in (stranger_client, owner_client))

    assert seen == owned
    assert b"Marina OWN" not in seen
    assert b"Own Marinas" not in seen


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

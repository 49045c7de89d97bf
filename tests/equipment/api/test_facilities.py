"""Facilities through the API. Problem documents after RFC 9457; field names after EPA's UST template of 3 Feb 2025."""

import pytest
from rest_framework.test import APIClient

from equipment.models import Facility
from equipment.vocabulary import KeyRole
from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import at, faults, patch, post, problem

BODY = {"code": "PT-3", "name": "Point Three", "time_zone": "America/New_York"}


@pytest.fixture
def staff_client(owner) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, KeyRole.STAFF)}")
    return client


def test_a_manager_opens_a_facility_and_may_read_it_at_once(owner, owner_client):
    opened = post(owner_client, "/api/v1/facilities", BODY)

    assert opened.status_code == 201, opened.json()
    assert opened.json()["operator"] == owner.pk
    assert owner_client.get(at(opened.json()["id"])).json() == opened.json()


def test_what_nobody_said_is_answered_as_null_and_a_no_stays_a_no(owner_client):
    opened = post(owner_client, "/api/v1/facilities", {**BODY, "attended": False}).json()

    assert opened["over_water"] is None
    assert opened["attended"] is False
    assert opened["facility_state"] is None


def test_an_opened_facility_needs_code_name_and_zone(owner_client):
    refused = post(owner_client, "/api/v1/facilities", {})

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == {"/code": "required", "/name": "required", "/time_zone": "required"}


def test_the_second_facility_with_a_code_is_refused_at_the_code(owner_client):
    post(owner_client, "/api/v1/facilities", BODY)

    again = post(owner_client, "/api/v1/facilities", BODY)

    assert faults(again) == {"/code": "taken"}
    assert Facility.objects.count() == 1


def test_two_operators_may_use_the_same_code(owner_client, stranger_client):
    codes = [post(one, "/api/v1/facilities", BODY).status_code for one in (owner_client, stranger_client)]

    assert codes == [201, 201]


def test_the_same_key_gives_the_same_answer_and_one_facility(owner_client):
    first = post(owner_client, "/api/v1/facilities", BODY, key="open-1")
    again = post(owner_client, "/api/v1/facilities", BODY, key="open-1")

    assert (again.status_code, again.json()) == (201, first.json())
    assert again.headers["Idempotent-Replay"] == "true"
    assert Facility.objects.count() == 1


def test_the_same_key_with_other_content_is_a_conflict(owner_client):
    post(owner_client, "/api/v1/facilities", BODY, key="open-1")

    other = post(owner_client, "/api/v1/facilities", {**BODY, "code": "X"}, key="open-1")

    assert problem(other) == (409, "idempotency-key-reused")


def test_staff_cannot_open_a_facility(staff_client):
    assert problem(post(staff_client, "/api/v1/facilities", BODY)) == (403, "not-allowed")


def test_a_contractor_cannot_open_a_facility(contractor_client):
    assert problem(post(contractor_client, "/api/v1/facilities", BODY)) == (403, "not-allowed")


@pytest.mark.parametrize("which", ["foreign", "unknown", "contractor"])
def test_naming_an_operator_that_is_not_yours_tells_nothing(which, owner_client, stranger, contractor):
    number = {"foreign": stranger.pk, "unknown": 10**9, "contractor": contractor.pk}[which]

    refused = post(owner_client, "/api/v1/facilities", {**BODY, "operator": number})

    assert refused.json()["errors"] == [
        {"pointer": "/operator", "detail": "no such operator organisation of yours", "code": "unknown"}
    ]


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("facility_latitude", 91, "constraint"),
        ("facility_latitude", "41.5", "invalid"),
        ("facility_latitude", True, "invalid"),
        ("over_water", "no", "invalid"),
        ("over_water", 0, "invalid"),
        ("owner_tank_count", 2.5, "invalid"),
        ("owner_tank_count", -1, "min_value"),
        ("owner_tank_count", 2**40, "max_value"),
        ("owner_type", "club", "invalid_choice"),
        ("season_opens", "5/15", "invalid"),
        ("time_zone", "Mars/Olympus", "choice"),
        ("name", 7, "invalid"),
        ("name", None, "null"),
        ("facility_city", "", "blank"),
        ("jurisdictions", "us-federal", "not_a_list"),
        ("nickname", "x", "unknown"),
        ("id", 5, "unknown"),
        ("facts_version", 5, "unknown"),
    ],
)
def test_a_bad_value_is_refused_at_its_key(field, value, code, owner_client):
    refused = post(owner_client, "/api/v1/facilities", {**BODY, field: value})

    assert problem(refused) == (422, "invalid-content")
    pointer = "" if code == "constraint" else f"/{field}"
    assert faults(refused) == {pointer: code}
    assert not Facility.objects.exists()


def test_every_fault_comes_in_one_answer(owner_client):
    refused = post(owner_client, "/api/v1/facilities", {"name": 7, "colour": "red", "over_water": "yes"})

    assert set(faults(refused)) == {"/name", "/colour", "/over_water", "/code", "/time_zone"}


def test_the_list_holds_what_is_yours_or_granted_and_nothing_else(
    own, foreign, owner_client, contractor_client
):
    for client in (owner_client, contractor_client):
        listed = client.get("/api/v1/facilities").json()["results"]

        assert [one["id"] for one in listed] == [own.pk]


def test_the_list_filters_by_name_code_and_state(owner, owner_client):
    near = world.facility(owner, "NEAR", name="North Cove", facility_state="NY")
    world.facility(owner, "FAR", name="South Cove", facility_state="MD")

    for query in ("name=north", "code=NEAR", "facility_state=NY"):
        listed = owner_client.get(f"/api/v1/facilities?{query}").json()["results"]

        assert [one["id"] for one in listed] == [near.pk], query


def test_a_misspelt_filter_is_refused_instead_of_listing_too_much(owner_client):
    refused = owner_client.get("/api/v1/facilities?state=NY")

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == {"/state": "unknown"}


def test_the_list_is_paged_newest_first(owner, owner_client):
    numbers = [world.facility(owner, code).pk for code in ("A", "B", "C")]

    first = owner_client.get("/api/v1/facilities?limit=2").json()
    second = owner_client.get(first["next"]).json()

    assert [one["id"] for one in first["results"] + second["results"]] == numbers[::-1]
    assert second["next"] is None


def test_a_correction_raises_the_version_and_the_facts_version(own, owner_client):
    before = owner_client.get(at(own))

    after = patch(owner_client, at(own), {"attended": True}, match=before.headers["ETag"])

    assert after.json()["attended"] is True
    assert after.json()["version"] == before.json()["version"] + 1
    assert after.json()["facts_version"] == before.json()["facts_version"] + 1
    assert after.headers["ETag"] == owner_client.get(at(own)).headers["ETag"] != before.headers["ETag"]


def test_a_correction_to_null_says_unknown_again(owner, owner_client):
    facility = world.facility(owner, "N", attended=True)

    assert patch(owner_client, at(facility), {"attended": None}).json()["attended"] is None


def test_a_refused_correction_leaves_everything_as_it_was(own, owner_client):
    before = owner_client.get(at(own)).json()

    refused = patch(owner_client, at(own), {"attended": True, "facility_longitude": 181})

    assert refused.status_code == 422
    assert owner_client.get(at(own)).json() == before


def test_the_operator_of_a_facility_is_not_corrected(own, stranger, owner_client):
    assert faults(patch(owner_client, at(own), {"operator": stranger.pk})) == {"/operator": "unknown"}


def test_a_contractor_reads_but_does_not_correct(own, contractor):
    client = client_of(contractor)

    assert client.get(at(own)).status_code == 200
    assert problem(patch(client, at(own), {"attended": True})) == (403, "not-allowed")

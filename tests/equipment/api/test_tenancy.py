"""What a stranger learns by asking: nothing, not even whether something exists."""

import json
from typing import Any

import pytest
from rest_framework.response import Response

from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import at, faults, patch, post, problem

# Every address below a facility, with a verb and a body that would do for the operator.
KNOCKS: list[tuple[str, str, Any]] = [
    ("GET", "", None),
    ("PATCH", "", {"attended": True}),
    ("GET", "/components", None),
    ("POST", "/components", {"kind": "tank", "tag": "T7"}),
    ("GET", "/components/T1", None),
    ("PATCH", "/components/T1", {"note": "seen"}),
    ("GET", "/changes", None),
    ("POST", "/changes", {"type": "status", "effective_on": "2026-02-01", "status": "abandoned"}),
    ("POST", "/changes/status-1/withdrawal", {"reason": "none"}),
    ("GET", "/access", None),
    ("POST", "/access", {"organisation": "Own Marinas", "role": "operator"}),
    ("POST", "/access/1/end", {}),
    ("GET", "/checklist", None),
]


def knock(client, verb: str, path: str, body: Any) -> Response:
    headers = {"Idempotency-Key": "knock", "If-Match": "*"}
    return client.generic(
        verb,
        path,
        "" if body is None else json.dumps(body),
        content_type="application/json",
        headers=headers,
    )


@pytest.fixture
def tanks(own, foreign):
    return world.component(own, "tank", "T1"), world.component(foreign, "tank", "T1")


@pytest.mark.parametrize(("verb", "path", "body"), KNOCKS)
def test_a_foreign_facility_answers_exactly_like_one_that_does_not_exist(
    verb, path, body, tanks, foreign, owner_client
):
    there = knock(owner_client, verb, at(foreign, path), body)
    nowhere = knock(owner_client, verb, at(10**12, path), body)

    assert problem(there) == (404, "not-found")
    assert there.json() == nowhere.json()


@pytest.mark.parametrize(("verb", "path", "body"), KNOCKS)
def test_nothing_of_a_foreign_facility_is_changed_by_knocking(
    verb, path, body, tanks, foreign, owner_client, stranger_client
):
    addresses = [at(foreign), at(foreign, "/components"), at(foreign, "/changes"), at(foreign, "/access")]
    before = [stranger_client.get(one).json() for one in addresses]

    knock(owner_client, verb, at(foreign, path), body)

    assert [stranger_client.get(one).json() for one in addresses] == before


@pytest.mark.parametrize(
    ("verb", "path", "body"), [one for one in KNOCKS if one[0] != "GET" or one[1] == "/access"]
)
def test_a_contractor_without_the_right_is_told_so_since_it_sees_the_facility(
    verb, path, body, tanks, own, contractor_client
):
    assert problem(knock(contractor_client, verb, at(own, path), body)) == (403, "not-allowed")


@pytest.mark.parametrize("link", ["parent", "replaces"])
@pytest.mark.parametrize("tag", ["FOREIGN1", "NOWHERE1"])
def test_a_foreign_tag_in_a_body_is_an_unknown_tag(link, tag, own, foreign, owner_client):
    world.component(foreign, "tank", "FOREIGN1")
    world.component(own, "hose", "H1")

    added = post(owner_client, at(own, "/components"), {"kind": "hose", "tag": "H2", link: tag})
    corrected = patch(owner_client, at(own, "/components/H1"), {link: tag})

    assert faults(added) == faults(corrected) == {f"/{link}": "unknown"}
    assert added.json()["errors"][0]["detail"] == f"no component '{tag}' at this facility"


@pytest.mark.parametrize("tag", ["FOREIGN1", "NOWHERE1"])
def test_a_foreign_component_gets_no_change(tag, own, foreign, owner_client):
    world.component(foreign, "tank", "FOREIGN1")
    body = {"type": "status", "component": tag, "effective_on": "2026-02-01", "status": "abandoned"}

    assert faults(post(owner_client, at(own, "/changes"), body)) == {"/component": "unknown"}


def test_a_foreign_change_cannot_be_withdrawn_through_ones_own_facility(
    own, foreign, owner_client, stranger_client
):
    body = {"type": "status", "effective_on": "2026-02-01", "status": "currently in use"}
    change = post(stranger_client, at(foreign, "/changes"), body).json()

    answer = post(owner_client, at(own, f"/changes/{change['id']}/withdrawal"), {"reason": "mine now"})

    assert problem(answer) == (404, "not-found")
    assert stranger_client.get(at(foreign, "/changes")).json()["results"] == [change]


def test_a_foreign_grant_cannot_be_ended_through_ones_own_facility(own, foreign, owner_client):
    grant = foreign.grants.get()

    answer = post(owner_client, at(own, f"/access/{grant.pk}/end"), {})

    assert problem(answer) == (404, "not-found")


def test_two_organisations_may_use_the_same_key_for_a_repeat(own, foreign, owner_client, stranger_client):
    answers = [
        post(client, at(facility, "/components"), {"kind": "tank", "tag": tag}, key="same")
        for client, facility, tag in ((owner_client, own, "T1"), (stranger_client, foreign, "T2"))
    ]

    assert [one.json()["tag"] for one in answers] == ["T1", "T2"]


def test_an_answer_kept_for_a_repeat_is_not_shown_after_the_grant_has_ended(own, owner, owner_client):
    partner = world.organisation("Partner Marinas")
    grant = world.grant(partner, own, "operator")
    client = client_of(partner)
    body = {"kind": "tank", "tag": "T1"}
    post(client, at(own, "/components"), body, key="same")
    post(owner_client, at(own, f"/access/{grant.pk}/end"), {})

    assert problem(post(client, at(own, "/components"), body, key="same")) == (404, "not-found")


@pytest.mark.parametrize("number", ["0", "9" * 30, "-1", "x"])
def test_a_number_that_no_facility_can_have_is_not_found(number, owner_client):
    assert problem(owner_client.get(f"/api/v1/facilities/{number}")) == (404, "not-found")

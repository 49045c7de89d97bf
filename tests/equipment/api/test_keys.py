"""Keys of programs. Bearer scheme: RFC 6750, 2.1; how a refusal says it: RFC 9110, 11.6.1 (WWW-Authenticate)."""

from datetime import timedelta

import pytest
import time_machine
from rest_framework.test import APIClient

from equipment.models import ApiKey
from tests import world
from tests.equipment.api.calls import at, faults, problem

DAY = timedelta(days=1)
KEYS = "/api/v1/keys"
BODY = {"name": "gateway", "role": "staff", "expires_at": (world.NOW + 30 * DAY).isoformat()}


@pytest.fixture(autouse=True)
def _clock():
    with time_machine.travel(world.NOW, tick=False):
        yield


def carrying(secret: str) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def order(client, **body):
    return client.post(KEYS, {**BODY, **body}, format="json")


def status_with(secret: str) -> int:
    return carrying(secret).get("/api/v1/facilities").status_code


def test_a_new_key_opens_what_its_organisation_may_see(own, owner_client):
    ordered = order(owner_client)

    assert ordered.status_code == 201, ordered.json()
    seen = carrying(ordered.json()["secret"]).get("/api/v1/facilities").json()["results"]
    assert [one["id"] for one in seen] == [own.pk]


def test_the_secret_is_shown_once_and_never_kept(owner_client):
    ordered = order(owner_client).json()

    listed = owner_client.get(KEYS).json()["results"]
    assert listed[0]["id"] == ordered["id"]
    assert all("secret" not in one for one in listed)
    stored = ApiKey.objects.filter(pk=ordered["id"]).values().get()
    assert ordered["secret"] not in [str(value) for value in stored.values()]


def test_what_a_key_may_do_has_to_be_said(owner_client):
    answer = owner_client.post(KEYS, {key: BODY[key] for key in ("name", "expires_at")}, format="json")

    assert faults(answer) == {"/role": "required"}


def test_a_staff_key_orders_no_keys_itself(owner_client):
    answer = order(carrying(order(owner_client).json()["secret"]))

    assert problem(answer) == (403, "not-allowed")
    assert "(staff) does not include: share" in answer.json()["detail"]
    assert "A key of role manager has it" in answer.json()["detail"]


def test_a_readers_key_states_nothing(own, owner_client):
    reader = carrying(order(owner_client, role="reader").json()["secret"])

    assert reader.get(at(own)).status_code == 200
    answer = reader.post(at(own, "/components"), {"kind": "tank", "tag": "T1"}, format="json")
    assert problem(answer) == (403, "not-allowed")


@pytest.mark.parametrize(
    ("lifetime", "expected"),
    [(400 * DAY, 201), (400 * DAY + timedelta(seconds=1), 422), (0 * DAY, 422), (-DAY, 422)],
)
def test_a_key_lives_400_days_at_most(lifetime, expected, owner_client):
    answer = order(owner_client, expires_at=(world.NOW + lifetime).isoformat())

    assert answer.status_code == expected
    if expected == 422:
        assert list(faults(answer)) == ["/expires_at"]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ({"expires_at": "2026-06-01T00:00:00"}, {"/expires_at": "no_offset"}),
        ({"expires_at": None}, {"/expires_at": "null"}),
        ({"name": ""}, {"/name": "blank"}),
        ({"role": "owner"}, {"/role": "invalid_choice"}),
        ({"secret": "mine"}, {"/secret": "unknown"}),
        ({"organisation": "2"}, {"/organisation": "invalid"}),
    ],
)
def test_a_bad_order_is_refused_at_its_key(body, expected, owner_client):
    assert faults(order(owner_client, **body)) == expected


def test_a_key_of_somebody_else_cannot_be_ordered(stranger, owner_client):
    for number in (stranger.pk, 10**9):
        answer = order(owner_client, organisation=number)

        assert faults(answer) == {"/organisation": "unknown"}


def test_keys_of_others_are_neither_listed_nor_revoked(owner_client, stranger_client):
    foreign = order(stranger_client).json()

    assert foreign["id"] not in [one["id"] for one in owner_client.get(KEYS).json()["results"]]
    for number in (foreign["id"], 10**9):
        assert problem(owner_client.delete(f"{KEYS}/{number}")) == (404, "not-found")
    assert status_with(foreign["secret"]) == 200


def test_a_revoked_key_opens_nothing_and_stays_listed(owner_client):
    ordered = order(owner_client).json()

    answers = [owner_client.delete(f"{KEYS}/{ordered['id']}").status_code for _ in range(2)]

    assert answers == [204, 204]
    assert status_with(ordered["secret"]) == 401
    assert owner_client.get(KEYS).json()["results"][0]["revoked_at"] == "2026-03-04T15:00:00Z"


def test_a_second_revocation_does_not_move_the_first(owner_client):
    ordered = order(owner_client).json()
    owner_client.delete(f"{KEYS}/{ordered['id']}")

    with time_machine.travel(world.NOW + DAY, tick=False):
        owner_client.delete(f"{KEYS}/{ordered['id']}")

    assert ApiKey.objects.get(pk=ordered["id"]).revoked_at == world.NOW


def test_a_key_ends_at_the_instant_it_expires(owner_client):
    secret = order(owner_client).json()["secret"]

    with time_machine.travel(world.NOW + 30 * DAY - timedelta(microseconds=1), tick=False):
        assert status_with(secret) == 200
    with time_machine.travel(world.NOW + 30 * DAY, tick=False):
        assert status_with(secret) == 401


@pytest.mark.parametrize(
    "spoil",
    [
        lambda secret: secret[:-1] + ("A" if secret[-1] != "A" else "B"),
        lambda secret: secret[:8],
        lambda secret: secret + "x",
        lambda secret: "",
        lambda secret: "Ü" + secret,
        lambda secret: secret.swapcase(),
    ],
)
def test_a_wrong_secret_opens_nothing_and_says_how_to_sign_in(spoil, owner_client):
    secret = order(owner_client).json()["secret"]

    answer = carrying(spoil(secret)).get("/api/v1/facilities")

    assert problem(answer) == (401, "no-valid-key")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize(
    "path", ["/facilities", "/keys", "/organisations", "/activities", "/facilities/1/access"]
)
def test_without_a_key_nothing_is_answered(path, own):
    assert problem(APIClient().get(f"/api/v1{path}")) == (401, "no-valid-key")


def test_the_last_use_is_noted_to_within_ten_minutes(owner_client):
    ordered = order(owner_client).json()
    noted = []

    for minutes in (0, 9, 10):
        with time_machine.travel(world.NOW + timedelta(minutes=minutes), tick=False):
            status_with(ordered["secret"])
        noted.append(ApiKey.objects.get(pk=ordered["id"]).last_used_at - world.NOW)

    assert noted == [timedelta(0), timedelta(0), timedelta(minutes=10)]


def test_whoever_comes_without_a_key_is_told_how_to_get_one(db):
    answer = APIClient().get("/api/v1/facilities")

    assert answer.json()["title"] == "A valid key is needed"
    assert "POST /api/v1/keys" in answer.json()["detail"]


def test_no_cookie_is_set_and_none_opens_anything(owner_client):
    assert not owner_client.get("/api/v1/facilities").cookies
    client = APIClient()
    client.cookies["sessionid"] = "x" * 32
    assert client.get("/api/v1/facilities").status_code == 401

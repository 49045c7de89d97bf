"""Dated grants: each holds from its start up to, not including, its end, to the instant (ISO 8601 with offset)."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from equipment.models import Facility, FacilityAccess
from equipment.services.keys import actor_of
from equipment.tenancy import Right, facilities_visible_to
from equipment.vocabulary import AccessRole
from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import at, faults, post, problem

MICROSECOND = timedelta(microseconds=1)


@pytest.fixture(autouse=True)
def _clock():
    with time_machine.travel(world.NOW, tick=False):
        yield


@pytest.fixture
def newcomer(db):
    return world.organisation("Harbor Tank Testing", "contractor")


@pytest.fixture
def access(own) -> str:
    return at(own, "/access")


def let_in(client, access, **body):
    return post(client, access, {"organisation": "Harbor Tank Testing", "role": "contractor", **body})


def test_a_contractor_who_is_let_in_sees_the_facility(access, own, owner_client, newcomer):
    client = client_of(newcomer)
    assert client.get(at(own)).status_code == 404

    granted = let_in(owner_client, access)

    assert granted.status_code == 201, granted.json()
    assert granted.json()["organisation"] == {"id": newcomer.pk, "name": newcomer.name}
    assert client.get(at(own)).status_code == 200


def test_a_grant_holds_to_the_instant(access, own, owner_client, newcomer):
    start, end = world.NOW + timedelta(days=1), world.NOW + timedelta(days=2)
    let_in(owner_client, access, starts_at=start.isoformat(), ends_at=end.isoformat())
    client = client_of(newcomer)

    seen = {}
    for moment in (start - MICROSECOND, start, end - MICROSECOND, end):
        with time_machine.travel(moment, tick=False):
            seen[moment] = client.get(at(own)).status_code

    assert list(seen.values()) == [404, 200, 200, 404]


def test_a_time_with_another_offset_is_the_same_instant(access, owner_client, newcomer):
    granted = let_in(owner_client, access, ends_at="2026-06-01T00:00:00-04:00").json()

    assert datetime.fromisoformat(granted["ends_at"]) == datetime(2026, 6, 1, 4, tzinfo=UTC)


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ({"organisation": "Nobody"}, {"/organisation": "unknown"}),
        ({"organisation": 3}, {"/organisation": "invalid"}),
        ({"role": "king"}, {"/role": "invalid_choice"}),
        ({"starts_at": "2026-03-05T10:00:00"}, {"/starts_at": "no_offset"}),
        ({"starts_at": "2026-03-05"}, {"/starts_at": "no_offset"}),
        ({"starts_at": "2026-03-04T14:59:59Z"}, {"/starts_at": "past"}),
        ({"ends_at": "2026-03-04T15:00:00Z"}, {"/ends_at": "constraint"}),
        ({"ends_at": "soon"}, {"/ends_at": "invalid"}),
        ({"facility": 1}, {"/facility": "unknown"}),
    ],
)
def test_a_bad_grant_is_refused_at_its_key(body, expected, access, owner_client, newcomer):
    refused = let_in(owner_client, access, **body)

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == expected


def test_the_same_role_twice_at_a_time_is_a_conflict(access, owner_client, newcomer):
    first = let_in(owner_client, access).json()

    again = let_in(owner_client, access, starts_at="2027-01-01T00:00:00Z")

    assert problem(again) == (409, "conflict")
    assert again.json()["grant"] == first["id"]


def test_one_grant_may_follow_another_without_a_gap(access, owner_client, newcomer):
    middle = "2026-06-01T00:00:00Z"

    answers = [
        let_in(owner_client, access, ends_at=middle),
        let_in(owner_client, access, starts_at=middle),
    ]

    assert [one.status_code for one in answers] == [201, 201]


def test_the_same_key_lets_in_once(access, owner_client, newcomer):
    body = {"organisation": newcomer.name, "role": "contractor"}
    first, again = (post(owner_client, access, body, key="let-in") for _ in range(2))

    assert again.json() == first.json()
    assert FacilityAccess.objects.filter(organisation=newcomer).count() == 1


def test_ending_a_grant_shuts_the_door_at_once(access, own, owner_client, contractor_client):
    grant = own.grants.get(role=AccessRole.CONTRACTOR)

    ended = post(owner_client, f"{access}/{grant.pk}/end", {})

    assert ended.status_code == 200, ended.json()
    assert problem(contractor_client.get(at(own))) == (404, "not-found")


def test_an_end_may_be_set_for_later_and_moved_forward(access, own, owner_client):
    grant = own.grants.get(role=AccessRole.CONTRACTOR)
    late, early = "2026-12-01T00:00:00Z", "2026-06-01T00:00:00Z"

    answers = [post(owner_client, f"{access}/{grant.pk}/end", {"ends_at": one}) for one in (late, early)]

    assert [one.json()["ends_at"] for one in answers] == [late, early]


def test_the_same_end_again_changes_nothing_and_a_past_grant_cannot_be_moved(access, own, owner_client):
    grant = own.grants.get(role=AccessRole.CONTRACTOR)
    now = {"ends_at": world.NOW.isoformat()}
    first, again = (post(owner_client, f"{access}/{grant.pk}/end", now) for _ in range(2))

    later = post(owner_client, f"{access}/{grant.pk}/end", {"ends_at": "2027-01-01T00:00:00Z"})

    assert again.json() == first.json()
    assert problem(later) == (409, "conflict")


def test_an_end_in_the_past_would_rewrite_history(access, own, owner_client):
    grant = own.grants.get(role=AccessRole.CONTRACTOR)

    refused = post(owner_client, f"{access}/{grant.pk}/end", {"ends_at": "2026-03-04T14:59:59Z"})

    assert faults(refused) == {"/ends_at": "past"}


def test_a_grant_that_has_not_begun_is_taken_back(access, own, owner_client, newcomer):
    grant = let_in(owner_client, access, starts_at="2027-01-01T00:00:00Z").json()

    taken = post(owner_client, f"{access}/{grant['id']}/end", {})

    assert taken.status_code == 204
    assert not own.grants.filter(organisation=newcomer).exists()


@pytest.mark.parametrize("body", [{}, {"ends_at": "2030-01-01T00:00:00Z"}])
def test_an_operator_cannot_end_its_own_last_grant(body, access, own, owner, owner_client):
    grant = own.grants.get(organisation=owner)

    assert problem(post(owner_client, f"{access}/{grant.pk}/end", body)) == (409, "last-grant")
    assert owner_client.get(at(own)).status_code == 200


def test_an_operator_with_a_second_lasting_grant_may_end_the_first(access, own, owner, owner_client):
    world.grant(owner, own, AccessRole.OPERATOR)
    first = own.grants.filter(organisation=owner).order_by("pk")[0]

    assert post(owner_client, f"{access}/{first.pk}/end", {}).status_code == 200
    assert owner_client.get(at(own)).status_code == 200


def test_a_second_grant_that_itself_ends_does_not_count(access, own, owner, owner_client):
    world.grant(owner, own, AccessRole.OPERATOR, ends_at=world.NOW + timedelta(days=1))
    lasting = own.grants.get(organisation=owner, ends_at=None)

    assert problem(post(owner_client, f"{access}/{lasting.pk}/end", {})) == (409, "last-grant")


@pytest.mark.parametrize("who", ["contractor", "staff"])
def test_without_the_right_to_share_everything_here_is_refused(who, access, own, owner, contractor):
    grant = own.grants.get(organisation=contractor)
    client = client_of(contractor)
    if who == "staff":
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, 'staff')}")

    answers = [
        client.get(access),
        let_in(client, access),
        post(client, f"{access}/{grant.pk}/end", {}),
    ]

    assert [problem(one) for one in answers] == [(403, "not-allowed")] * 3


def test_the_list_shows_ended_grants_too(access, own, owner_client, newcomer):
    world.grant(newcomer, own, ends_at=world.NOW - timedelta(days=1))

    listed = owner_client.get(access).json()["results"]

    assert [one["organisation"]["name"] for one in listed] == [
        "Harbor Tank Testing",
        "Granted Service",
        "Own Marinas",
    ]


@pytest.mark.parametrize("role", list(AccessRole))
def test_no_role_but_the_operators_may_share_or_state_the_register(role, owner, newcomer):
    facility = world.facility(owner, "R")
    world.grant(newcomer, facility, role)
    actor = world_actor(newcomer)

    for right in (Right.SHARE, Right.REGISTER):
        seen = facilities_visible_to(actor, now=world.NOW, right=right)
        assert seen.exists() is (role == AccessRole.OPERATOR)
    assert list(facilities_visible_to(actor, now=world.NOW)) == [Facility.objects.get(code="R")]


def world_actor(organisation):
    actor = actor_of(world.key(organisation), now=world.NOW)
    assert actor is not None
    return actor

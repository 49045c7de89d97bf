"""Fallback people over the API. If-Match and ETag: RFC 9110, 13.1.1 and 8.8.3."""

import pytest
import time_machine

from alarms.models import Notice
from alarms.services.escalation import escalate_due
from equipment.vocabulary import KeyRole
from tests import world
from tests.alarms.sites import call_list, contact, raised
from tests.alarms.test_api import get, pointers, put
from tests.conftest import client_of
from tests.equipment.api.calls import problem

MIA = {"name": "Mia", "email": "mia@example.com"}
SAM = {"name": "Sam", "email": "sam@example.com"}


@pytest.fixture(autouse=True)
def _clock():
    with time_machine.travel(world.NOW, tick=False):
        yield


@pytest.fixture
def path(owner) -> str:
    return f"organisations/{owner.pk}/fallback-people"


def test_before_the_first_list_there_is_version_0(path, owner_client):
    answer = get(owner_client, path)

    assert (answer.status_code, answer["ETag"]) == (200, '"v0"')
    assert answer.json() == {"version": 0, "people": [], "changed_at": None, "changed_by": None}


def test_people_are_kept_in_their_order_until_the_next_list(path, owner_client):
    put(owner_client, path, {"people": [SAM, MIA]})
    answer = put(owner_client, path, {"people": [MIA, SAM]}, match='"v1"')

    assert (answer.status_code, answer["ETag"]) == (200, '"v2"')
    assert get(owner_client, path).json()["people"] == [MIA, SAM]


@pytest.mark.parametrize(("headers", "status"), [({}, 428), ({"If-Match": '"v1"'}, 412)])
def test_whoever_does_not_name_the_version_changes_nothing(path, owner_client, headers, status):
    answer = owner_client.put(f"/api/v1/{path}", {"people": [MIA]}, format="json", headers=headers)

    assert answer.status_code == status
    assert get(owner_client, path).json()["people"] == []


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ({}, ["/people"]),
        ({"people": [{"name": "Mia", "email": "mia"}]}, ["/people/0/email"]),
        ({"people": [{"email": "mia@example.com"}]}, ["/people/0/name"]),
        ({"people": [MIA, MIA]}, ["/people/1/email"]),
        ({"people": [MIA | {"organisation": 1}]}, ["/people/0/organisation"]),
    ],
)
def test_what_is_wrong_is_pointed_at(path, owner_client, body, expected):
    answer = put(owner_client, path, body)

    assert (answer.status_code, pointers(answer)) == (422, expected)


def test_staff_state_it_and_readers_only_read_it(path, owner):
    reader = client_of(owner, KeyRole.READER)

    assert put(client_of(owner, KeyRole.STAFF), path, {"people": [MIA]}).status_code == 200
    assert get(reader, path).json()["people"] == [MIA]
    assert problem(put(reader, path, {"people": [SAM]})) == (403, "not-allowed")


def test_a_contractor_at_the_site_neither_sees_nor_states_them(own, path, contractor_client):
    assert problem(get(contractor_client, path)) == (404, "not-found")
    assert problem(put(contractor_client, path, {"people": [MIA]})) == (404, "not-found")


def test_an_empty_list_that_would_leave_a_site_with_nobody_is_refused_by_name(own, path, owner_client):
    put(owner_client, path, {"people": [MIA]})

    answer = put(owner_client, path, {"people": []}, match='"v1"')

    assert problem(answer) == (409, "nobody-left-to-tell")
    assert answer.json()["facilities"] == [own.pk]
    assert "Marina OWN" in answer.json()["detail"]


def test_what_waited_for_somebody_to_tell_is_told(own, path, owner_client):
    raised(own, "x")
    escalate_due(now=world.NOW, limit=10)
    put(owner_client, path, {"people": [MIA]})
    escalate_due(now=world.NOW, limit=10)

    assert list(Notice.objects.values_list("name", flat=True)) == ["Mia"]


def test_a_stand_in_may_be_stated_for_a_fallback_person(owner, path, owner_client):
    put(owner_client, path, {"people": [MIA]})
    body = {"away": MIA, "stand_in": SAM, "begins": "2026-03-05T00:00:00Z", "ends": "2026-03-09T00:00:00Z"}

    answer = owner_client.post(
        f"/api/v1/organisations/{owner.pk}/stand-ins",
        body | {"reason": "Leave."},
        format="json",
        headers={"Idempotency-Key": "leave"},
    )

    assert answer.status_code == 201


@pytest.mark.parametrize("address", ["portfolio", "facilities/{pk}/standing"])
def test_a_site_with_nobody_to_tell_shows_it_until_somebody_is_named(address, own, path, owner_client):
    def shown() -> bool:
        answer = get(owner_client, address.format(pk=own.pk)).json()
        return (answer["results"][0] if "results" in answer else answer)["nobody_to_tell"]

    assert shown() is True
    put(owner_client, path, {"people": [MIA]})
    assert shown() is False


def test_a_call_list_takes_the_sign_away_too(own, owner_client):
    call_list(own, (0, [contact("Ann")]))

    assert get(owner_client, f"facilities/{own.pk}/standing").json()["nobody_to_tell"] is False

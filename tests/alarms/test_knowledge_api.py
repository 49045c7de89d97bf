"""What is known of an alarm over HTTP: stated, listed, taken back with a reason, and never by a stranger."""

from datetime import datetime, timedelta

import pytest
import time_machine

from alarms.models import AlarmKnowledge
from tests.alarms.sites import minutes, raised
from tests.world import NOW

HOUR = timedelta(hours=1)
LATER = NOW + 3 * HOUR


def text(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


LEARNED = {"discovered_at": text(NOW + HOUR)}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def alarm(site):
    return raised(site, "SU1", "sump-fuel")


def state(client, alarm, body: dict, *, key: str = "k1"):
    path = f"/api/v1/alarms/{alarm.pk}/knowledge"
    return client.post(path, body, format="json", headers={"Idempotency-Key": key})


def withdraw(client, alarm, number: int, reason: str = "wrong hour"):
    path = f"/api/v1/alarms/{alarm.pk}/knowledge/{number}/withdrawal"
    return client.post(path, {"reason": reason}, format="json")


def listed(client, alarm) -> list[dict]:
    return client.get(f"/api/v1/alarms/{alarm.pk}/knowledge").json()["results"]


def test_knowledge_is_kept_and_the_discovery_shows_on_the_alarm(alarm, owner_client):
    body = {"party": "contractor", "at": text(NOW + HOUR), "discovered_at": text(NOW + HOUR)}

    answer = state(owner_client, alarm, body)

    assert answer.status_code == 201
    assert {name: answer.json()[name] for name in body} == body
    shown = owner_client.get(f"/api/v1/alarms/{alarm.pk}").json()
    assert shown["discovered_at"] == text(NOW + HOUR)


@pytest.mark.parametrize(
    ("body", "status", "pointer"),
    [
        ({}, 422, ""),
        ({"party": "operator"}, 422, "/at"),
        ({"no_liquid": "yes"}, 422, "/no_liquid"),
        ({"discovered_at": text(NOW - HOUR)}, 422, "/discovered_at"),
        ({"discovered_at": text(NOW + HOUR)}, 409, "/discovered_at"),
    ],
)
def test_knowledge_that_cannot_stand_is_refused_where_it_stands(alarm, owner_client, body, status, pointer):
    state(owner_client, alarm, {"discovered_at": text(NOW)}, key="first")

    answer = state(owner_client, alarm, body)

    assert answer.status_code == status
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


def test_every_statement_is_listed_the_newest_first(alarm, owner_client, contractor_client):
    first = state(owner_client, alarm, LEARNED).json()
    second = state(contractor_client, alarm, {"party": "contractor", "at": text(NOW)}).json()

    assert listed(owner_client, alarm) == [second, first]
    assert second["submitted_by"] == "Granted Service"


def test_the_contractor_states_no_discovery_of_the_operators(alarm, contractor_client):
    """40 CFR 280.50: the discovery by owners and operators."""
    answer = state(contractor_client, alarm, LEARNED)

    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (403, "/discovered_at")


def test_a_statement_that_was_taken_back_is_listed_with_its_reason_and_can_be_made_anew(alarm, owner_client):
    number = state(owner_client, alarm, LEARNED).json()["id"]

    taken = withdraw(owner_client, alarm, number)

    assert (taken.status_code, taken.json()["withdrawn_reason"]) == (200, "wrong hour")
    assert [one["withdrawn_at"] for one in listed(owner_client, alarm)] == [text(LATER)]
    assert withdraw(owner_client, alarm, number).json() == taken.json()
    assert withdraw(owner_client, alarm, number, "another reason").status_code == 409
    anew = state(owner_client, alarm, {"discovered_at": text(NOW + minutes(5))}, key="k2")
    assert anew.status_code == 201
    shown = owner_client.get(f"/api/v1/alarms/{alarm.pk}").json()
    assert shown["discovered_at"] == text(NOW + minutes(5))


def test_the_operator_takes_back_what_the_contractor_stated_and_not_the_other_way_round(
    alarm, owner_client, contractor_client
):
    theirs = state(contractor_client, alarm, {"party": "contractor", "at": text(NOW)}).json()["id"]
    ours = state(owner_client, alarm, LEARNED).json()["id"]

    assert withdraw(contractor_client, alarm, ours).status_code == 403
    assert withdraw(owner_client, alarm, theirs).status_code == 200


def test_a_statement_is_found_only_under_its_own_alarm(alarm, site, owner_client):
    other = raised(site, "T1", "high-water")
    number = state(owner_client, alarm, LEARNED).json()["id"]

    assert withdraw(owner_client, other, number).status_code == 404
    assert listed(owner_client, other) == []


def test_to_a_stranger_there_is_nothing_to_read_or_take_back(alarm, owner_client, stranger_client):
    number = state(owner_client, alarm, LEARNED).json()["id"]

    assert stranger_client.get(f"/api/v1/alarms/{alarm.pk}/knowledge").status_code == 404
    assert withdraw(stranger_client, alarm, number).status_code == 404
    assert AlarmKnowledge.objects.get().withdrawn_at is None


def test_reading_takes_the_same_number_of_queries_for_many(
    alarm, owner_client, django_assert_max_num_queries
):
    for number in range(6):
        state(owner_client, alarm, LEARNED, key=str(number))

    with django_assert_max_num_queries(8):
        found = listed(owner_client, alarm)

    assert len(found) == 6

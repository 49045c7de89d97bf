"""Answering an alarm over HTTP: stated once, listed, taken back with a reason, and never for a stranger."""

from datetime import datetime, timedelta

import pytest
import time_machine

from alarms.models import AlarmKnowledge, Disposition
from equipment.models import FacilityAccess
from equipment.vocabulary import AccessRole
from tests.alarms.sites import raised
from tests.conftest import client_of
from tests.world import NOW

HOUR = timedelta(hours=1)
LATER = NOW + 3 * HOUR


def text(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


CONTAINED = {
    "type": "contained",
    "at": text(NOW + 2 * HOUR),
    "evidence": {"repaired_at": text(NOW + HOUR), "liquid_removed_at": text(NOW + HOUR)},
}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def alarm(site):
    return raised(site, "SN1", "sump-fuel")


def send(client, alarm, what: str, body: dict, *, key: str | None = "k1"):
    headers = {} if key is None else {"Idempotency-Key": key}
    return client.post(f"/api/v1/alarms/{alarm.pk}/{what}", body, format="json", headers=headers)


def test_an_answer_is_kept_as_stated_with_who_stated_it(alarm, owner_client):
    answer = send(owner_client, alarm, "dispositions", CONTAINED)

    assert answer.status_code == 201
    stated = answer.json()
    assert (stated["type"], stated["at"], stated["alarm"]) == ("contained", CONTAINED["at"], alarm.pk)
    assert {name: value for name, value in stated["evidence"].items() if value} == CONTAINED["evidence"]
    assert (stated["submitted_by"], stated["recorded_at"]) == ("Own Marinas", text(LATER))
    [listed] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/dispositions").json()["results"]
    assert listed == stated


def test_water_that_was_taken_out_is_kept_with_its_cause_and_what_was_done(site, owner_client):
    """40 CFR 280.50(b)(1)-(3)."""
    alarm = raised(site, "SU1", "sump-liquid")
    evidence = {
        "checked_at": text(NOW + HOUR),
        "finding": "Sump and pipes whole.",
        "cause": "Rain through the lid.",
        "action": "4 gal pumped into a drum.",
        "no_defect": True,
        "liquid_removed_at": text(NOW + HOUR),
    }
    body = {"type": "water removed", "at": text(NOW + 2 * HOUR), "evidence": evidence}

    stated = send(owner_client, alarm, "dispositions", body).json()

    assert {name: value for name, value in stated["evidence"].items() if value} == evidence


def test_a_repeat_is_answered_alike_and_stated_once(alarm, owner_client):
    first, second = (send(owner_client, alarm, "dispositions", CONTAINED) for _ in range(2))

    assert first.json() == second.json()
    assert second.headers["Idempotent-Replay"] == "true"
    assert Disposition.objects.count() == 1


@pytest.mark.parametrize("what", ["dispositions", "knowledge"])
def test_a_statement_without_a_key_is_refused(alarm, owner_client, what):
    body = CONTAINED if what == "dispositions" else {"no_liquid": True}

    assert send(owner_client, alarm, what, body, key=None).status_code == 428


def test_the_contractor_whom_the_operator_let_in_may_answer(alarm, contractor_client):
    answer = send(contractor_client, alarm, "dispositions", CONTAINED)

    assert (answer.status_code, answer.json()["submitted_by"]) == (201, "Granted Service")


@pytest.mark.parametrize(
    ("what", "body"), [("dispositions", CONTAINED), ("knowledge", {"no_liquid": True}), ("dispositions", {})]
)
def test_to_a_stranger_the_alarm_does_not_exist(alarm, stranger_client, what, body):
    assert send(stranger_client, alarm, what, body).status_code == 404
    assert not Disposition.objects.exists()
    assert not AlarmKnowledge.objects.exists()


def test_an_agency_reads_the_answers_and_states_none(alarm, stranger, owner_client):
    send(owner_client, alarm, "dispositions", CONTAINED)
    FacilityAccess.objects.create(
        organisation=stranger,
        facility=alarm.facility,
        role=AccessRole.AGENCY,
        starts_at=NOW,
        granted_by="test",
    )
    agency = client_of(stranger)

    read = agency.get(f"/api/v1/alarms/{alarm.pk}/dispositions")

    assert (read.status_code, len(read.json()["results"])) == (200, 1)
    assert send(agency, alarm, "dispositions", CONTAINED).status_code == 403


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        ({"at": text(NOW)}, {"/type"}),
        ({**CONTAINED, "type": "false alarm"}, {"/type"}),
        ({**CONTAINED, "at": "2026-03-04T17:00:00"}, {"/at"}),
        ({**CONTAINED, "evidence": {}}, {"/evidence/repaired_at", "/evidence/liquid_removed_at"}),
        ({**CONTAINED, "evidence": {"repaired_at": "2026-03-04"}}, {"/evidence/repaired_at"}),
        ({**CONTAINED, "evidence": {**CONTAINED["evidence"], "record": True}}, {"/evidence/record"}),
        ({**CONTAINED, "evidence": {**CONTAINED["evidence"], "record": 999_999}}, {"/evidence/record"}),
        ({**CONTAINED, "evidence": {**CONTAINED["evidence"], "photo": 1}}, {"/evidence/photo"}),
        ({**CONTAINED, "evidence": {**CONTAINED["evidence"], "no_defect": "yes"}}, {"/evidence/no_defect"}),
        ({**CONTAINED, "evidence": {**CONTAINED["evidence"], "action": 3}}, {"/evidence/action"}),
        ({**CONTAINED, "evidence": None}, {"/evidence"}),
        ({**CONTAINED, "at": text(LATER + HOUR)}, {"/at"}),
    ],
)
def test_what_is_wrong_is_named_where_it_stands(alarm, owner_client, body, pointers):
    answer = send(owner_client, alarm, "dispositions", body)

    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == pointers


def test_a_missing_part_names_its_paragraph(alarm, owner_client):
    """40 CFR 280.50(c)(2)(i)."""
    body = {**CONTAINED, "evidence": {"repaired_at": text(NOW + HOUR)}}

    [error] = send(owner_client, alarm, "dispositions", body).json()["errors"]

    assert (error["pointer"], error["code"]) == ("/evidence/liquid_removed_at", "missing")
    assert "280.50(c)(2)(i)" in error["detail"]


def withdraw(client, alarm, number: int, reason: str = "wrong alarm"):
    path = f"/api/v1/alarms/{alarm.pk}/dispositions/{number}/withdrawal"
    return client.post(path, {"reason": reason}, format="json")


def test_a_withdrawn_answer_stays_in_the_list_with_its_reason(alarm, owner_client):
    number = send(owner_client, alarm, "dispositions", CONTAINED).json()["id"]

    taken = withdraw(owner_client, alarm, number)

    assert (taken.status_code, taken.json()["withdrawn_reason"]) == (200, "wrong alarm")
    [listed] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/dispositions").json()["results"]
    assert listed["withdrawn_at"] == text(LATER)
    assert withdraw(owner_client, alarm, number, "another reason").status_code == 409


def test_the_contractor_cannot_take_back_what_the_operator_stated(alarm, owner_client, contractor_client):
    number = send(owner_client, alarm, "dispositions", CONTAINED).json()["id"]

    assert withdraw(contractor_client, alarm, number).status_code == 403


def test_an_answer_is_found_only_under_its_own_alarm(alarm, site, owner_client):
    other = raised(site, "T1", "high-water")
    number = send(owner_client, alarm, "dispositions", CONTAINED).json()["id"]

    assert withdraw(owner_client, other, number).status_code == 404
    assert owner_client.get(f"/api/v1/alarms/{other.pk}/dispositions").json()["results"] == []


def test_reading_the_answers_takes_the_same_number_of_queries_for_many(
    alarm, owner_client, django_assert_max_num_queries
):
    for number in range(6):
        send(owner_client, alarm, "dispositions", CONTAINED, key=str(number))

    with django_assert_max_num_queries(9):
        answer = owner_client.get(f"/api/v1/alarms/{alarm.pk}/dispositions")

    assert len(answer.json()["results"]) == 6

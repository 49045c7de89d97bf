"""Planning function checks over HTTP: ahead of time, by whoever may answer alarms, never for a stranger."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.models import Exercise
from equipment.models import FacilityAccess
from equipment.vocabulary import AccessRole, KeyRole
from tests import world
from tests.conftest import client_of
from tests.world import NOW

HOUR = timedelta(hours=1)
PLAN = {
    "led_by": "R. Ames",
    "sensors": ["SN1"],
    "starts_at": "2026-03-04T16:00:00Z",
    "ends_at": "2026-03-04T18:00:00Z",
}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def plan(client, site, *, key: str | None = "k1", **changed):
    headers = {} if key is None else {"Idempotency-Key": key}
    return client.post(
        f"/api/v1/facilities/{site.pk}/function-checks", PLAN | changed, format="json", headers=headers
    )


def post(client, site, check, what: str, body: dict | None = None):
    path = f"/api/v1/facilities/{site.pk}/function-checks/{check['id']}/{what}"
    return client.post(path, body or {}, format="json")


def test_a_plan_is_kept_as_stated_with_who_stated_it(site, owner_client):
    answer = plan(owner_client, site, note="Monthly round.")

    assert answer.status_code == 201
    stated = answer.json()
    assert {name: stated[name] for name in ("led_by", "starts_at", "ends_at", "note")} == {
        "led_by": "R. Ames",
        "starts_at": PLAN["starts_at"],
        "ends_at": PLAN["ends_at"],
        "note": "Monthly round.",
    }
    assert stated["sensors"] == [{"tag": "SN1", "outcome": None, "judged_at": None, "record": None}]
    assert (stated["submitted_by"], stated["closed_at"]) == ("Own Marinas", None)
    [listed] = owner_client.get(f"/api/v1/facilities/{site.pk}/function-checks").json()["results"]
    assert listed == stated


def test_a_repeat_is_answered_alike_and_planned_once(site, owner_client):
    first, second = (plan(owner_client, site) for _ in range(2))

    assert first.json() == second.json()
    assert second.headers["Idempotent-Replay"] == "true"
    assert Exercise.objects.count() == 1


def test_a_plan_without_a_key_is_refused(site, owner_client):
    assert plan(owner_client, site, key=None).status_code == 428


def test_without_a_start_it_begins_now(site, owner_client):
    assert plan(owner_client, site, starts_at=None).json()["starts_at"] == "2026-03-04T15:00:00Z"


def test_the_contractor_whom_the_operator_let_in_may_plan(site, contractor_client):
    answer = plan(contractor_client, site)

    assert (answer.status_code, answer.json()["submitted_by"]) == (201, "Granted Service")


def test_to_a_stranger_the_facility_does_not_exist(site, stranger_client):
    assert plan(stranger_client, site).status_code == 404
    assert not Exercise.objects.exists()


def test_a_check_at_another_facility_is_not_found_from_ones_own(site, foreign, owner_client, stranger_client):
    check = plan(owner_client, site).json()

    assert post(stranger_client, foreign, check, "withdrawal", {"reason": "Mine."}).status_code == 404
    assert post(stranger_client, foreign, check, "end").status_code == 404


@pytest.mark.parametrize("role", [AccessRole.AGENCY, AccessRole.GATEWAY])
def test_whoever_may_not_answer_alarms_may_not_plan(site, stranger, role):
    FacilityAccess.objects.create(
        organisation=stranger, facility=site, role=role, starts_at=NOW - HOUR, granted_by="test"
    )

    assert plan(client_of(stranger), site).status_code == 403
    assert not Exercise.objects.exists()


def test_a_contractor_whose_grant_has_ended_may_not_plan(site, contractor, contractor_client):
    contractor.grants.update(ends_at=NOW)

    assert plan(contractor_client, site).status_code == 404


def test_a_reader_of_the_operators_own_may_not_plan(site, owner, client):
    secret = world.key(owner, KeyRole.READER)
    headers = {"Authorization": f"Bearer {secret}", "Idempotency-Key": "k"}
    path = f"/api/v1/facilities/{site.pk}/function-checks"

    assert client.post(path, PLAN, content_type="application/json", headers=headers).status_code == 403


@pytest.mark.parametrize(
    ("changed", "pointers"),
    [
        ({"led_by": ""}, {"/led_by"}),
        ({"led_by": "x" * 201}, {"/led_by"}),
        ({"sensors": []}, {"/sensors"}),
        ({"sensors": "SN1"}, {"/sensors"}),
        ({"sensors": [7]}, {"/sensors/0"}),
        ({"sensors": ["SN9"]}, {"/sensors/0"}),
        ({"sensors": ["SN1", "SU1", "SN1"]}, {"/sensors/1", "/sensors/2"}),
        ({"starts_at": "2026-03-04T14:59:59Z"}, {"/starts_at"}),
        ({"starts_at": "2026-03-04T16:00:00"}, {"/starts_at"}),
        ({"starts_at": "2026-06-04T16:00:00Z", "ends_at": "2026-06-04T17:00:00Z"}, {"/starts_at"}),
        ({"ends_at": "2026-03-04T16:00:00Z"}, {"/ends_at"}),
        ({"ends_at": "2026-03-05T00:00:01Z"}, {"/ends_at"}),
        ({"ends_at": None}, {"/ends_at"}),
        ({"conditions": ["sump-fuel"]}, {"/conditions"}),
    ],
)
def test_what_is_wrong_is_named_where_it_stands_and_nothing_is_kept(site, owner_client, changed, pointers):
    answer = plan(owner_client, site, **changed)

    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == pointers
    assert not Exercise.objects.exists()


def test_a_sensor_that_was_taken_out_cannot_be_driven(site, owner_client):
    world.component(site, "sensor", "SN2", parent="SU1", removed_on=NOW.date())

    [error] = plan(owner_client, site, sensors=["SN2"]).json()["errors"]
    assert (error["pointer"], error["code"]) == ("/sensors/0", "removed")


def test_a_sensor_of_another_facility_is_refused_like_one_that_does_not_exist(site, foreign, owner_client):
    world.component(foreign, "tank_system", "S1")
    world.component(foreign, "sensor", "SX", parent="S1")

    [error] = plan(owner_client, site, sensors=["SX"]).json()["errors"]
    assert (error["pointer"], error["code"]) == ("/sensors/0", "unknown")


def test_two_checks_of_one_sensor_do_not_overlap(site, owner_client, contractor_client):
    world.component(site, "sensor", "SN2", parent="SU1")
    first = plan(owner_client, site).json()

    second = plan(
        contractor_client,
        site,
        sensors=["SN2", "SN1"],
        starts_at="2026-03-04T17:59:59Z",
        ends_at="2026-03-04T19:00:00Z",
    )
    after = plan(owner_client, site, key="k2", starts_at=PLAN["ends_at"], ends_at="2026-03-04T19:00:00Z")

    [error] = second.json()["errors"]
    assert (second.status_code, error["pointer"], error["code"]) == (422, "/sensors/1", "overlap")
    assert f"function check {first['id']}" in error["detail"]
    assert after.status_code == 201


def test_a_sensor_is_not_kept_under_check_all_day(site, owner_client):
    for number in (0, 1):
        starts, ends = NOW + number * 6 * HOUR, NOW + (number + 1) * 6 * HOUR
        full = plan(
            owner_client, site, key=f"k{number}", starts_at=starts.isoformat(), ends_at=ends.isoformat()
        )
        assert full.status_code == 201
    starts = NOW + 12 * HOUR
    more = plan(
        owner_client, site, key="k9", starts_at=starts.isoformat(), ends_at=(starts + HOUR).isoformat()
    )

    [error] = more.json()["errors"]
    assert (error["pointer"], error["code"]) == ("/sensors/0", "too-long")


def test_listing_costs_the_same_for_one_check_and_for_many(site, owner_client):
    tags = [f"SX{number}" for number in range(12)]
    for tag in tags:
        world.component(site, "sensor", tag, parent="SU1")
    path = f"/api/v1/facilities/{site.pk}/function-checks"
    plan(owner_client, site)
    owner_client.get(path)
    with CaptureQueriesContext(connection) as one:
        owner_client.get(path)
    for number, tag in enumerate(tags):
        assert plan(owner_client, site, key=f"more {number}", sensors=[tag]).status_code == 201
    with CaptureQueriesContext(connection) as many:
        assert len(owner_client.get(path).json()["results"]) == 13

    assert len(many) == len(one)


def test_a_withdrawn_check_and_one_that_ended_early_make_room(site, owner_client, clock):
    withdrawn = plan(owner_client, site).json()
    post(owner_client, site, withdrawn, "withdrawal", {"reason": "Rain."})
    again = plan(owner_client, site, key="k2").json()
    clock.move_to(NOW + 1.5 * HOUR)
    post(owner_client, site, again, "end")

    assert plan(owner_client, site, key="k3", starts_at=None).status_code == 201


def test_it_is_withdrawn_before_it_begins_and_stays_on_file_with_the_reason(site, owner_client):
    check = plan(owner_client, site).json()

    for _ in range(2):
        answer = post(owner_client, site, check, "withdrawal", {"reason": "Rain."})
        assert (answer.status_code, answer.json()["withdrawn_reason"]) == (200, "Rain.")
    assert post(owner_client, site, check, "withdrawal", {"reason": "Snow."}).status_code == 409
    assert post(owner_client, site, check, "end").status_code == 409
    assert owner_client.get(f"/api/v1/facilities/{site.pk}/function-checks").json()["results"]


def test_only_its_planner_and_the_operator_withdraw_it(site, owner_client, contractor_client):
    check = plan(owner_client, site).json()

    assert post(contractor_client, site, check, "withdrawal", {"reason": "No."}).status_code == 403


def test_once_it_has_begun_it_is_ended_not_withdrawn(site, owner_client, contractor_client, clock):
    check = plan(owner_client, site).json()
    before = post(owner_client, site, check, "end")
    clock.move_to(NOW + HOUR)
    withdrawal = post(owner_client, site, check, "withdrawal", {"reason": "Rain."})
    clock.move_to(NOW + 1.25 * HOUR)
    ended = post(contractor_client, site, check, "end")
    clock.move_to(NOW + 1.5 * HOUR)
    again = post(owner_client, site, check, "end")

    assert (before.status_code, withdrawal.status_code) == (409, 409)
    assert (ended.json()["ended_at"], ended.json()["ends_at"]) == ("2026-03-04T16:15:00Z", PLAN["ends_at"])
    assert again.json() == ended.json()


def test_after_its_planned_end_there_is_nothing_left_to_end(site, owner_client, clock):
    check = plan(owner_client, site).json()
    clock.move_to(NOW + 4 * HOUR)

    assert post(owner_client, site, check, "end").json()["ended_at"] is None


@pytest.mark.parametrize("body", [{"at": "2026-03-04T16:15:00Z"}, []])
def test_an_end_takes_no_words(site, owner_client, clock, body):
    check = plan(owner_client, site).json()
    clock.move_to(NOW + HOUR)

    assert post(owner_client, site, check, "end", body or [1]).status_code == 422

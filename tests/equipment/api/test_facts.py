"""Designations, papers, fuel, findings, events and plans through the API: each keeps the same promises."""

from typing import Any

import pytest

from alarms.models import Alarm
from equipment.api.fact_resources import OVERRIDES, RELEASES, RESOURCES, Resource
from equipment.models import Facility, Release
from equipment.tenancy import Right
from tests import world
from tests.alarms.sites import raised
from tests.equipment.api.calls import at, faults, post, problem
from tests.equipment.files import attached
from tests.equipment.statements import document, person

ALL = (*RESOURCES, RELEASES, OVERRIDES)
EACH = pytest.mark.parametrize("resource", ALL, ids=lambda one: one.path)
OPERATORS_ONLY = [one for one in ALL if one.right == Right.REGISTER]
CONTRACTORS_TOO = [one for one in RESOURCES if one.right == Right.RECORD]


def body_of(resource: Resource, site: Facility) -> dict[str, Any]:
    """The example that the description shows, with numbers of this site in it."""
    body = dict(resource.example)
    if "person" in body:
        body["person"] = person(site.operator).pk
    if "document" in body:
        body["document"] = document(site, "agency letter").pk
    if "alarm" in body:
        body["alarm"] = (Alarm.objects.filter(facility=site).first() or raised(site)).pk
    if "attachments" in body:
        body["attachments"] = [attached(site).pk]
    return body


@pytest.fixture(autouse=True)
def parts(own, foreign, attachment_folder):
    world.line(own)
    world.line(foreign)


@EACH
def test_the_example_of_the_description_is_accepted_and_listed(resource, own, owner_client):
    body = body_of(resource, own)

    stated = post(owner_client, at(own, f"/{resource.path}"), body)
    listed = owner_client.get(at(own, f"/{resource.path}")).json()["results"]

    assert stated.status_code == 201, stated.json()
    assert listed == [stated.json()]
    shown = stated.json() | {"person": (stated.json().get("person") or {}).get("id")}
    shown["attachments"] = [one["id"] for one in stated.json().get("attachments", [])]
    assert body.items() <= shown.items()


@EACH
def test_the_same_request_again_states_nothing_new(resource, own, owner_client):
    body, path = body_of(resource, own), at(own, f"/{resource.path}")

    first = post(owner_client, path, body, key="once")
    again = post(owner_client, path, body, key="once")

    assert again.json() == first.json()
    assert again.headers["Idempotent-Replay"] == "true"
    assert resource.model.objects.filter(recorded_by=first.json()["recorded_by"]).count() == 1


@EACH
def test_a_statement_without_a_key_is_refused(resource, own, owner_client):
    answer = owner_client.post(at(own, f"/{resource.path}"), body_of(resource, own), format="json")

    assert problem(answer) == (428, "idempotency-key-required")


@EACH
def test_an_unknown_key_is_refused_at_its_place(resource, own, owner_client):
    answer = post(owner_client, at(own, f"/{resource.path}"), {**body_of(resource, own), "colour": "red"})

    assert faults(answer) == {"/colour": "unknown"}


@EACH
def test_a_stranger_finds_nothing(resource, own, owner_client, stranger_client):
    path = at(own, f"/{resource.path}")
    stated = post(owner_client, path, body_of(resource, own)).json()["id"]

    answers = [
        stranger_client.get(path),
        post(stranger_client, path, body_of(resource, own)),
        post(stranger_client, f"{path}/{stated}/withdrawal", {"reason": "none of mine"}),
        post(stranger_client, f"{path}/{stated}/end", {"ended_on": "2026-03-01"}),
    ]

    assert {answer.status_code for answer in answers} == {404}


@EACH
def test_a_fact_is_not_reached_through_another_facility(
    resource, own, foreign, owner_client, stranger_client
):
    stated = post(owner_client, at(own, f"/{resource.path}"), body_of(resource, own)).json()["id"]

    answer = post(
        stranger_client, at(foreign, f"/{resource.path}/{stated}/withdrawal"), {"reason": "none of mine"}
    )

    assert answer.status_code == 404
    assert resource.model.objects.get(pk=stated).withdrawn_at is None


@EACH
def test_what_was_stated_by_mistake_is_taken_back_with_the_reason(resource, own, owner_client):
    path = at(own, f"/{resource.path}")
    stated = post(owner_client, path, body_of(resource, own)).json()

    taken = post(owner_client, f"{path}/{stated['id']}/withdrawal", {"reason": "wrong site"})
    other = post(owner_client, f"{path}/{stated['id']}/withdrawal", {"reason": "changed my mind"})

    assert taken.status_code == 200, taken.json()
    assert taken.json()["withdrawn_reason"] == "wrong site"
    assert problem(other) == (409, "conflict")
    assert owner_client.get(path).json()["results"] == [taken.json()]


@pytest.mark.parametrize("resource", OPERATORS_ONLY, ids=lambda one: one.path)
def test_a_contractor_reads_and_does_not_state_what_is_the_operators(resource, own, contractor_client):
    path = at(own, f"/{resource.path}")

    assert contractor_client.get(path).status_code == 200
    assert problem(post(contractor_client, path, body_of(resource, own))) == (403, "not-allowed")


@pytest.mark.parametrize("resource", CONTRACTORS_TOO, ids=lambda one: one.path)
def test_a_contractor_states_deliveries_and_spills_and_takes_its_own_back(resource, own, contractor_client):
    path = at(own, f"/{resource.path}")

    stated = post(contractor_client, path, body_of(resource, own)).json()
    taken = post(contractor_client, f"{path}/{stated['id']}/withdrawal", {"reason": "wrong dock"})

    assert stated["submitted_by"] == "Granted Service"
    assert taken.status_code == 200


@pytest.mark.parametrize("resource", CONTRACTORS_TOO, ids=lambda one: one.path)
def test_a_contractor_does_not_take_back_what_the_owner_stated(
    resource, own, owner_client, contractor_client
):
    path = at(own, f"/{resource.path}")
    stated = post(owner_client, path, body_of(resource, own)).json()["id"]

    refused = post(contractor_client, f"{path}/{stated}/withdrawal", {"reason": "not ours"})

    assert problem(refused) == (403, "not-allowed")


@pytest.mark.parametrize("name", ["designations", "documents"])
def test_a_last_day_is_stated_once(name, own, owner_client):
    resource = next(one for one in RESOURCES if one.path == name)
    path = at(own, f"/{name}")
    stated = post(owner_client, path, body_of(resource, own)).json()["id"]

    ended = post(owner_client, f"{path}/{stated}/end", {"ended_on": "2026-06-30"})
    moved = post(owner_client, f"{path}/{stated}/end", {"ended_on": "2026-07-31"})

    assert (ended.status_code, ended.json()["ended_on"]) == (200, "2026-06-30")
    assert ended.json()["end_recorded_by"] == ended.json()["recorded_by"]
    assert moved.status_code == 409


def test_only_what_holds_for_a_time_has_an_end(own, owner_client):
    assert post(owner_client, at(own, "/spills/1/end"), {"ended_on": "2026-06-30"}).status_code == 404


def test_a_persons_number_of_another_organisation_answers_like_an_unknown_one(own, stranger, owner_client):
    theirs = person(stranger).pk
    body = {"operator_class": "C"}

    known = post(owner_client, at(own, "/designations"), {**body, "person": theirs})
    unknown = post(owner_client, at(own, "/designations"), {**body, "person": theirs + 1000})

    assert known.json() == unknown.json()
    assert faults(known) == {"/person": "unknown"}


def test_every_fault_of_a_spill_points_at_its_place(own, owner_client):
    body = {
        "discovered_at": "2026-02-27T14:05:00",
        "gal_to_environment": "38",
        "sheen": "no",
        "known_by": [{"party": "operator", "at": "2026-02-27T14:05:00"}, {"party": 7}],
    }

    answer = post(owner_client, at(own, "/spills"), body)

    assert set(faults(answer)) == {
        "/discovered_at",
        "/gal_to_environment",
        "/sheen",
        "/known_by/0/at",
        "/known_by/1/party",
        "/known_by/1/at",
    }


@pytest.mark.parametrize("whose", ["nobody", "foreign"])
def test_a_release_names_an_alarm_of_its_own_facility(own, foreign, owner_client, whose):
    number = 999_999 if whose == "nobody" else raised(foreign).pk
    body = dict(RELEASES.example) | {"alarm": number}

    refused = post(owner_client, at(own, "/releases"), body)

    assert (problem(refused), faults(refused)) == ((422, "invalid-content"), {"/alarm": "unknown"})
    assert not Release.objects.exists()


@pytest.mark.parametrize("figure", [None, {"days": 60}, ["60 days"], ""])
def test_a_figure_of_an_agency_is_a_number_or_a_text(own, owner_client, figure):
    letter = document(own, "agency letter").pk
    body = {"rule": "spill-bucket-tightness-3y", "document": letter, "params": {"period": figure}}

    assert set(faults(post(owner_client, at(own, "/agency-overrides"), body))) == {"/params/period"}


def test_a_page_of_facts_costs_the_same_whatever_its_length(own, owner_client, django_assert_num_queries):
    path = at(own, "/documents")
    scan = attached(own).pk
    for _ in range(3):
        document(own, subjects=("T1", "SB1"), attachments=(scan,))
    owner_client.get(path)

    with django_assert_num_queries(6):
        owner_client.get(path)
    for _ in range(10):
        document(own, subjects=("T1", "SB1"), attachments=(scan,))
    with django_assert_num_queries(6):
        assert len(owner_client.get(path).json()["results"]) == 13

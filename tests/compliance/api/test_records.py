"""A contractor's program posts what it did; the answer says what moved."""

from datetime import timedelta

import pytest
from django.utils import timezone

from equipment.models import ConflictingReport, Facility, Record
from tests import world

BODY = {
    "technician": "R. Ames",
    "records": [
        {
            "activity": "line-leak-detector-test",
            "subjects": ["LLD1"],
            "performed_at": "2026-03-02",
            "outcome": "pass",
            "measurements": {
                "simulated_leak": True,
                "leak_rate_gph": 3.0,
                "psi": 10.0,
                "minutes_to_detect": 4,
            },
            "external_id": "job-1",
        }
    ],
}


@pytest.fixture
def site(own) -> Facility:
    world.line(own)
    return own


def records_of(site) -> str:
    return f"/api/v1/facilities/{site.pk}/records"


def changed(**fields) -> dict:
    return BODY | {"records": [BODY["records"][0] | fields]}


def test_a_posted_test_moves_its_obligation_by_a_year_with_citation(site, contractor_client):
    answer = contractor_client.post(records_of(site), BODY, format="json")

    assert answer.status_code == 201
    [move] = answer.json()["moved"]
    assert move["rule"] == "annual-alld-test"
    assert move["before"]["standing"] == "no record"
    # 40 CFR 280.40(a)(3): "annually", read as one year from the last completion.
    assert move["after"] == {"standing": move["after"]["standing"], "due": "2027-03-02"}
    assert "280.40(a)(3)" in move["cite"]


def test_the_same_visit_again_answers_200_and_moves_nothing(site, contractor_client):
    contractor_client.post(records_of(site), BODY, format="json")

    again = contractor_client.post(records_of(site), BODY, format="json")

    assert again.status_code == 200
    assert (again.json()["repeated"], again.json()["moved"]) == (1, [])


def test_the_same_key_gets_the_same_answer(site, contractor_client):
    body = changed(external_id=None)
    first = contractor_client.post(records_of(site), body, format="json", headers={"Idempotency-Key": "k-1"})

    again = contractor_client.post(records_of(site), body, format="json", headers={"Idempotency-Key": "k-1"})

    assert again.json() == first.json()
    assert again.headers["Idempotent-Replay"] == "true"
    assert Record.objects.count() == 1


def test_the_same_key_for_other_content_is_refused(site, contractor_client):
    contractor_client.post(records_of(site), BODY, format="json", headers={"Idempotency-Key": "k-1"})

    other = contractor_client.post(
        records_of(site), changed(outcome="fail"), format="json", headers={"Idempotency-Key": "k-1"}
    )

    assert other.status_code == 409
    assert other.json()["type"] == "urn:problem:idempotency-key-reused"


def test_without_a_key_or_an_id_a_repeat_could_not_be_told(site, contractor_client):
    answer = contractor_client.post(records_of(site), changed(external_id=None), format="json")

    assert answer.status_code == 428
    assert Record.objects.count() == 0


def test_other_content_under_a_used_id_is_refused_and_both_stay_visible(
    site, contractor_client, owner_client
):
    first = contractor_client.post(records_of(site), BODY, format="json").json()["records"][0]["id"]

    answer = contractor_client.post(records_of(site), changed(outcome="fail"), format="json")

    assert answer.status_code == 409
    assert answer.json()["errors"][0]["pointer"] == "/records/0/external_id"
    seen = owner_client.get(f"{records_of(site)}/{first}").json()
    assert (seen["outcome"], seen["conflicts"][0]["content"]["outcome"]) == ("pass", "fail")


@pytest.mark.parametrize(
    ("fields", "pointer", "code"),
    [
        ({"subjects": ["LLD9"]}, "/records/0/subjects/0", "unknown"),
        ({"subjects": ["T1"]}, "/records/0/subjects/0", "wrong-kind"),
        ({"activity": "dance"}, "/records/0/activity", "unknown"),
        ({"performed_at": "2299-01-01"}, "/records/0/performed_at", "future"),
        ({"performed_at": "2026-03-02T10:00:00"}, "/records/0/performed_at", "unreadable"),
        ({"performed_at": 20260302}, "/records/0/performed_at", "not_text"),
        ({"measurements": {"leak_rate": 3.0}}, "/records/0/measurements/leak_rate", "unknown"),
        ({"measurements": {"psi": "ten"}}, "/records/0/measurements/psi", "type"),
        ({"measurements": [1]}, "/records/0/measurements", "not_a_dict"),
        ({"outcome": "good"}, "/records/0/outcome", "invalid_choice"),
        ({"colour": "red"}, "/records/0/colour", "unknown"),
        ({"supersedes": 999}, "/records/0/supersedes", "unknown"),
    ],
)
def test_each_fault_is_named_at_its_place_and_nothing_is_stored(
    site, contractor_client, fields, pointer, code
):
    answer = contractor_client.post(records_of(site), changed(**fields), format="json")

    assert answer.status_code == 422
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert [(error["pointer"], error["code"]) for error in answer.json()["errors"]] == [(pointer, code)]
    assert Record.objects.count() == 0


def test_a_stranger_cannot_post_or_look(site, stranger_client):
    assert stranger_client.post(records_of(site), BODY, format="json").status_code == 404
    assert stranger_client.get(records_of(site)).status_code == 404


def test_a_contractor_whose_grant_ended_is_a_stranger(site, contractor, contractor_client):
    contractor.grants.update(ends_at=timezone.now() - timedelta(seconds=1))

    assert contractor_client.post(records_of(site), BODY, format="json").status_code == 404


def test_an_agency_may_look_and_not_post(site, stranger, stranger_client):
    world.grant(stranger, site, "agency")

    assert stranger_client.get(records_of(site)).status_code == 200
    assert stranger_client.post(records_of(site), BODY, format="json").status_code == 403


def test_a_record_is_withdrawn_by_its_sender_and_the_obligation_moves_back(site, contractor_client):
    record = contractor_client.post(records_of(site), BODY, format="json").json()["records"][0]["id"]

    answer = contractor_client.post(
        f"{records_of(site)}/{record}/withdrawal", {"reason": "wrong line"}, format="json"
    )

    [move] = answer.json()["moved"]
    assert (move["rule"], move["after"]["standing"]) == ("annual-alld-test", "no record")


def test_nobody_withdraws_somebody_elses_record(site, owner_client, contractor_client):
    record = owner_client.post(records_of(site), BODY, format="json").json()["records"][0]["id"]

    answer = contractor_client.post(
        f"{records_of(site)}/{record}/withdrawal", {"reason": "not mine"}, format="json"
    )

    assert answer.status_code == 403
    assert Record.objects.get().withdrawn_at is None


def test_a_refused_conflict_leaves_no_trace_but_the_report(site, contractor_client):
    contractor_client.post(records_of(site), BODY, format="json")
    version = Facility.objects.get(pk=site.pk).facts_version

    contractor_client.post(records_of(site), changed(outcome="fail"), format="json")

    assert ConflictingReport.objects.count() == 1
    assert Facility.objects.get(pk=site.pk).facts_version == version


def test_a_record_is_on_file_even_when_the_facility_cannot_be_judged(site, contractor_client, owner_client):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-nowhere"])

    answer = contractor_client.post(records_of(site), BODY, format="json")

    assert answer.status_code == 201
    assert (answer.json()["moved"], Record.objects.count()) == (None, 1)
    assert "could not be judged" in answer.json()["remark"]
    assert "us-nowhere" in owner_client.get(f"/api/v1/facilities/{site.pk}/standing").json()["last_error"]


def test_one_external_id_may_serve_two_operators_and_neither_sees_the_others_report(
    site, foreign, contractor, contractor_client, owner_client
):
    world.line(foreign)
    world.grant(contractor, foreign)
    contractor_client.post(records_of(site), BODY, format="json")

    elsewhere = contractor_client.post(records_of(foreign), changed(note="theirs"), format="json")

    assert elsewhere.status_code == 201
    assert "theirs" not in owner_client.get(records_of(site)).content.decode()


@pytest.mark.parametrize(
    "reference", ["alarm:999999", "alarm:xyz", "record:1", "nonsense", "alarm:" + "9" * 40]
)
def test_an_answer_to_nothing_is_refused(site, owner_client, reference):
    body = {
        "records": [
            {
                "activity": "report-to-agency",
                "performed_at": "2026-03-02",
                "measurements": {"report": "suspected release"},
                "regarding": reference,
                "external_id": "call-1",
            }
        ]
    }

    answer = owner_client.post(records_of(site), body, format="json")

    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/records/0/regarding"


@pytest.mark.parametrize(
    ("activity", "subject", "measurements", "pointer"),
    [
        ("line-leak-detector-test", "LLD1", {"psi": -20}, "psi"),
        ("overfill-inspection", "OV1", {"acts_volume_gal": -1}, "acts_volume_gal"),
        ("tank-tightness-test", "T1", {"start_degf": 900}, "start_degf"),
        (
            "manual-tank-gauging",
            "T1",
            {"earlier_weeks": [{"difference_gal": 1e9}]},
            "earlier_weeks/0/difference_gal",
        ),
    ],
)
def test_a_reading_that_cannot_be_is_refused_at_its_place_and_nothing_is_kept(
    own, owner_client, activity, subject, measurements, pointer
):
    """No fuel is at 900 °F, under less than a vacuum, or of less than nothing."""
    world.line(own)
    record = {"activity": activity, "subjects": [subject], "performed_at": "2026-03-02", "external_id": "x1"}
    body = {"records": [record | {"outcome": "pass", "measurements": measurements}]}

    refused = owner_client.post(f"/api/v1/facilities/{own.pk}/records", body, format="json")

    assert refused.status_code == 422
    assert [one["pointer"] for one in refused.json()["errors"]] == [f"/records/0/measurements/{pointer}"]
    assert not Record.objects.exists()

"""A posted test is numbers: its verdict is answered, kept and listed, and shown to both sides when it is disputed."""

import pytest

from compliance.models import RecordVerdict, Standing
from compliance.queries import stale_standings
from compliance.services import assess
from equipment.models import Facility
from tests import world
from tests.conftest import client_of
from tests.world import NOW


@pytest.fixture
def site(own) -> Facility:
    world.line(own)
    return own


def body(outcome="pass", job="job-1", measurements=None, **more) -> dict:
    record = {
        "activity": "spill-bucket-test",
        "subjects": ["SB1"],
        "performed_at": "2026-03-02",
        "outcome": outcome,
        "measurements": world.LEAKING_BUCKET if measurements is None else measurements,
        "external_id": job,
        **more,
    }
    return {"technician": "R. Ames", "records": [record]}


def post(client, site, **stated) -> dict:
    answer = client.post(f"/api/v1/facilities/{site.pk}/records", body(**stated), format="json")
    assert answer.status_code == 201, answer.content
    return answer.json()


def listed(client, site, **asked) -> list[int]:
    answer = client.get(f"/api/v1/facilities/{site.pk}/records", asked)
    assert answer.status_code == 200, answer.content
    return [row["id"] for row in answer.json()["results"]]


def disputed(client, **asked) -> list[int]:
    return [row["id"] for row in client.get("/api/v1/disagreements", asked).json()["results"]]


def test_the_answer_carries_criterion_margin_rounding_and_source(site, contractor_client):
    """PEI RP 1200 section 6.2.6: a fall under 1/8 in; this one is twice that."""
    verdict = post(contractor_client, site)["records"][0]["verdict"]

    assert (verdict["outcome"], verdict["counted"], verdict["reported"]) == ("fail", "fail", "pass")
    assert verdict["disagreement"] is True
    assert (verdict["limit"], verdict["comparison"], verdict["unit"]) == (0.125, "<", "in")
    assert (verdict["measured"], verdict["margin"]) == (0.25, -0.125)
    assert verdict["source"] == "PEI RP 1200 section 6.2.6, p. 15"
    assert verdict["rounding"] == "read to 1/16 in, compared as read"
    assert verdict["checks"][0]["holds"] is False


def test_what_was_answered_is_read_again_and_lies_on_file(site, contractor_client, owner_client):
    record = post(contractor_client, site)["records"][0]

    shown = owner_client.get(f"/api/v1/facilities/{site.pk}/records/{record['id']}").json()

    row = RecordVerdict.objects.get(pk=record["id"])
    assert shown["verdict"] == record["verdict"] == row.body
    assert (row.outcome, row.criterion, row.margin, row.disagreement) == (
        "fail",
        "bucket-water-fall",
        -0.125,
        True,
    )


def test_a_disagreement_is_seen_by_both_organisations_and_by_no_stranger(
    site, owner_client, contractor_client, stranger_client, foreign
):
    record = post(contractor_client, site)["records"][0]["id"]

    assert disputed(owner_client) == disputed(contractor_client) == [record]
    assert disputed(stranger_client) == []
    assert disputed(owner_client, facility=foreign.pk) == []


def test_a_disagreement_is_counted_until_it_is_corrected(site, owner_client, contractor_client):
    first = post(contractor_client, site)["records"][0]["id"]
    path = f"/api/v1/facilities/{site.pk}/standing"
    open_before = owner_client.get(path).json()["disagreements"]

    post(contractor_client, site, outcome="fail", job="job-2", supersedes=first)

    assert (open_before, owner_client.get(path).json()["disagreements"]) == (1, 0)
    assert disputed(owner_client) == []
    assert listed(owner_client, site, disagreement="true") == [first]


def test_a_withdrawn_record_is_disputed_no_longer(site, owner_client, contractor_client):
    record = post(contractor_client, site)["records"][0]["id"]

    contractor_client.post(
        f"/api/v1/facilities/{site.pk}/records/{record}/withdrawal", {"reason": "other bucket"}, format="json"
    )

    assert disputed(owner_client) == []
    assert Standing.objects.get(pk=site.pk).disagreements == 0


def test_a_test_without_its_numbers_names_them_and_is_counted(site, owner_client, contractor_client):
    answer = post(contractor_client, site, measurements={"method": "liquid"})

    verdict = answer["records"][0]["verdict"]
    assert (verdict["outcome"], verdict["counted"]) == ("incomplete", None)
    assert verdict["missing"] == ["level_start_in", "level_end_in", "minutes"]
    [move] = answer["moved"]
    assert (move["rule"], move["after"]["standing"]) == ("spill-bucket-tightness-3y", "cannot decide")
    portfolio = owner_client.get("/api/v1/portfolio").json()["results"][0]
    assert (portfolio["incomplete_tests"], portfolio["disagreements"]) == (1, 0)


def test_records_are_listed_by_verdict_and_by_disagreement(site, owner_client):
    tight = post(owner_client, site, job="1", measurements=world.TIGHT_BUCKET)["records"][0]["id"]
    failed = post(owner_client, site, job="2", outcome="fail")["records"][0]["id"]
    wrong = post(owner_client, site, job="3")["records"][0]["id"]
    bare = post(owner_client, site, job="4", measurements={})["records"][0]["id"]

    assert listed(owner_client, site, verdict="pass") == [tight]
    assert listed(owner_client, site, verdict="fail") == [wrong, failed]
    assert listed(owner_client, site, verdict="incomplete") == [bare]
    assert listed(owner_client, site, disagreement="true") == [wrong]
    assert listed(owner_client, site, disagreement="false") == [bare, failed, tight]
    assert listed(owner_client, site, verdict="fail", disagreement="false") == [failed]


def test_an_unknown_verdict_is_refused_with_its_place(site, owner_client):
    answer = owner_client.get(f"/api/v1/facilities/{site.pk}/records", {"verdict": "good"})

    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "/verdict"


def test_what_no_protocol_judges_has_no_verdict(site, owner_client):
    walk = {
        "activity": "walkthrough",
        "performed_at": "2026-03-02",
        "measurements": {"areas": ["spill"]},
        "external_id": "w-1",
    }
    answer = owner_client.post(f"/api/v1/facilities/{site.pk}/records", {"records": [walk]}, format="json")

    [record] = answer.json()["records"]
    assert (record["verdict"], record["no_verdict"]) == (None, None)
    assert RecordVerdict.objects.count() == 0


def test_numbers_that_no_protocol_judges_are_told_why(site, owner_client):
    """PEI RP400 holds the limit of a hose's resistance and was not at hand."""
    world.component(site, "hose", "H1")
    hose = {
        "activity": "hose-continuity-test",
        "subjects": ["H1"],
        "performed_at": "2026-03-02",
        "outcome": "pass",
        "measurements": {"ohms": 900},
        "external_id": "h-1",
    }

    answer = owner_client.post(f"/api/v1/facilities/{site.pk}/records", {"records": [hose]}, format="json")

    [record] = answer.json()["records"]
    assert record["verdict"] is None
    assert "PEI RP400" in record["no_verdict"]


def test_other_protocols_make_every_facility_stale_and_its_verdicts_new(site, contractor_client, monkeypatch):
    post(contractor_client, site)
    RecordVerdict.objects.update(outcome="pass", law_digest="of an older release")
    Standing.objects.update(packs_digest="of an older release")
    assert stale_standings(now=NOW).count() == 1

    assess.drain(clock=lambda: NOW)

    row = RecordVerdict.objects.get()
    assert row.outcome == "fail"
    assert row.law_digest == Standing.objects.get(pk=site.pk).packs_digest


def test_verdicts_are_kept_where_the_rules_cannot_be_judged(site, owner):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-nowhere"])

    answer = post(client_of(owner), site)

    assert answer["moved"] is None
    assert answer["records"][0]["verdict"]["outcome"] == "fail"


MILLIMETRES = {
    "method": "liquid",
    "minutes": {"value": 1, "unit": "h"},
    "level_start_in": {"value": 279.4, "unit": "mm"},
    "level_end_in": {"value": 276.225, "unit": "mm"},
}


def test_a_test_in_millimetres_is_judged_in_inches_and_shown_as_stated(site, owner_client):
    """1 in is 25.4 mm: a fall of 3.175 mm is 1/8 in, which PEI RP 1200 section 6.2.6 no longer takes."""
    record = post(owner_client, site, measurements=MILLIMETRES)["records"][0]

    assert (record["verdict"]["outcome"], record["verdict"]["measured"]) == ("fail", 0.125)
    assert record["measurements"] == {
        "method": "liquid",
        "minutes": 60.0,
        "level_start_in": 11.0,
        "level_end_in": 10.875,
    }
    assert record["stated_units"] == {
        f"/{name}": value for name, value in MILLIMETRES.items() if name != "method"
    }


def test_the_same_test_in_millimetres_again_is_a_repeat_and_in_inches_it_is_other_content(
    site, contractor_client
):
    post(contractor_client, site, measurements=MILLIMETRES)
    path = f"/api/v1/facilities/{site.pk}/records"

    again = contractor_client.post(path, body(measurements=MILLIMETRES), format="json")
    converted = {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 10.875}
    other = contractor_client.post(path, body(measurements=converted), format="json")

    assert (again.status_code, again.json()["repeated"]) == (200, 1)
    assert other.status_code == 409


@pytest.mark.parametrize(
    ("value", "pointer"),
    [
        ({"value": 3, "unit": "psi"}, "/records/0/measurements/level_start_in/unit"),
        ({"value": 3, "unit": "furlong"}, "/records/0/measurements/level_start_in/unit"),
        ({"value": "3", "unit": "mm"}, "/records/0/measurements/level_start_in/value"),
        (900_000, "/records/0/measurements/level_start_in"),
    ],
)
def test_what_cannot_be_measured_is_refused_and_nothing_is_stored(site, owner_client, value, pointer):
    measurements = world.TIGHT_BUCKET | {"level_start_in": value}

    answer = owner_client.post(
        f"/api/v1/facilities/{site.pk}/records", body(measurements=measurements), format="json"
    )

    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    assert listed(owner_client, site) == []

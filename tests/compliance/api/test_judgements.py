"""What-if: any site document is judged, with packs, look-back and moment of the asker's choice; nothing is stored."""

import json

import pytest

from compliance.models import Obligation
from tests.compliance.rules.test_history import RULE, SUBJECT, TESTED, detector, detector_test
from tests.equipment.api.calls import faults

PATH = "/api/v1/judgements"


def judged(client, document: dict, **asked) -> dict:
    answer = client.post(PATH, {"document": document, **asked}, format="json")
    assert answer.status_code == 200, answer.json()
    return answer.json()


def finding(client, document: dict, *, rule: str = RULE, subject: str = SUBJECT, **asked) -> dict:
    findings = judged(client, document, **asked)["findings"]
    [found] = [one for one in findings if (one["rule"], one["subject"]) == (rule, subject)]
    return found


def test_the_answer_names_the_moment_the_packs_and_when_it_changes(owner_client):
    """40 CFR 280.40(a)(3): annual, so the test of 29 February 2024 is good to 28 February 2025."""
    told = judged(owner_client, detector(*TESTED), on="2024-03-15")

    [found] = [one for one in told["findings"] if (one["rule"], one["subject"]) == (RULE, SUBJECT)]
    assert (found["standing"], found["due"]) == ("met", "2025-02-28")
    # The last instant of the day in New York, where daylight saving time has begun.
    assert told["at"] == "2024-03-16T03:59:59.999999+00:00"
    assert told["packs"] == ["us-federal"]
    assert told["changes_at"] > told["at"]


def test_as_of_leaves_out_what_was_recorded_later_and_on_does_not(owner_client):
    document = detector(*TESTED[:4], detector_test("2023-01-15", "R9", recorded_at="2024-06-01"))

    assert finding(owner_client, document, on="2023-06-01")["standing"] == "met"
    assert finding(owner_client, document, as_of="2023-06-01")["standing"] == "overdue"
    assert finding(owner_client, document, as_of="2024-06-01")["evidence"] == ["R9"]


@pytest.mark.parametrize(
    ("look_back", "dues"), [("12m", []), ("3y", ["2023-01-20"]), ("6y", ["2021-01-10", "2023-01-20"])]
)
def test_the_look_back_says_how_long_ended_delays_are_told(owner_client, look_back, dues):
    found = finding(owner_client, detector(*TESTED), on="2025-01-15", look_back=look_back)

    assert [one["due"] for one in found["late_intervals"]] == dues


def test_the_asked_packs_stand_in_for_those_of_the_document(owner_client):
    document = detector(*TESTED)
    document["facility"]["jurisdictions"] = ["us-nowhere"]

    assert judged(owner_client, document, on="2025-01-15", packs=["us-federal"])["packs"] == ["us-federal"]
    refused = owner_client.post(PATH, {"document": document, "on": "2025-01-15"}, format="json")
    assert set(faults(refused)) == {"/document/facility/jurisdictions/0"}


def test_what_is_not_required_comes_with_its_reason_when_asked_for(owner_client):
    closing = [{"of": "S1", "on": "2025-01-01", "status": "closed in place"}]
    document = detector(*TESTED, changes=closing)

    found = finding(owner_client, document, on="2025-01-15", include_not_required=True)
    without = judged(owner_client, document, on="2025-01-15")["findings"]

    assert (found["standing"], found["reason"]) == ("not required", "it is closed in place")
    assert "it is closed in place" in found["sentence"]
    assert all(one["standing"] != "not required" for one in without)


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"packs": ["us-federal", "us-nowhere"]}, "/packs/1"),
        ({"packs": []}, "/packs"),
        ({"look_back": "12"}, "/look_back"),
        ({"look_back": "999y"}, "/look_back"),
        ({"on": "2025-01-01", "as_of": "2025-01-01"}, "/as_of"),
        ({"on": "2400-01-01"}, "/on"),
        ({"moment": "2025-01-01"}, "/moment"),
        ({"document": {"facility": {"colour": "blue"}}}, "/document/facility/colour"),
        (
            {"document": detector({"activity": "dance", "performed_at": "2025-01-01"})},
            "/document/records/0/activity",
        ),
    ],
)
def test_what_cannot_be_judged_is_refused_at_its_place(owner_client, body, pointer):
    answer = owner_client.post(PATH, {"document": detector()} | body, format="json")

    assert set(faults(answer)) == {pointer}


def test_no_stored_data_is_needed_and_none_is_left(stranger_client):
    assert finding(stranger_client, detector(*TESTED), on="2024-03-15")["standing"] == "met"
    assert Obligation.objects.count() == 0


def test_judging_twice_gives_the_same_bytes(owner_client):
    bodies = [json.dumps(judged(owner_client, detector(*TESTED), on="2024-03-15")) for _ in range(2)]

    assert bodies[0] == bodies[1]

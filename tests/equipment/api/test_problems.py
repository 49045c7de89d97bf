"""Bad input at the doorway that every route shares. RFC 9457 (problem documents), RFC 6901 (pointers), RFC 8259 (JSON:
8.1 UTF-8, 6 no NaN), RFC 9110 (statuses)."""

import json
from typing import Any

import pytest
from rest_framework.exceptions import ValidationError
from rest_framework.test import APIClient

from equipment.api.facilities import Facilities
from equipment.api.fields import MomentField
from equipment.api.throttling import KeyThrottle
from equipment.models import Component, Facility, FacilityAccess
from equipment.services import register
from tests.equipment.api.calls import at, faults, problem

ROOT = "/api/v1/facilities"
GOOD = b'{"code": "A", "name": "A", "time_zone": "America/New_York"}'


def send(client: APIClient, body: bytes, content_type: str = "application/json") -> Any:
    return client.generic("POST", ROOT, body, content_type=content_type)


def deep(levels: int, inner: str = "1") -> str:
    return "[" * levels + inner + "]" * levels


UNREADABLE = {
    "not JSON": b"code=A",
    "half an object": b'{"code": "A"',
    "two documents": b"{}{}",
    "single quotes": b"{'code': 'A'}",
    "broken UTF-8": b'{"code": "\xff\xfe"}',
    "UTF-16": '{"code": "A"}'.encode("utf-16"),
    "a byte order mark": b"\xef\xbb\xbf{}",
    "NaN": b'{"facility_latitude": NaN}',
    "Infinity": b'{"facility_latitude": Infinity}',
    "minus Infinity": b'{"facility_latitude": -Infinity}',
    "a number beyond every float": b'{"facility_latitude": 1e400}',
    "a number of many digits": b'{"owner_tank_count": ' + b"9" * 5000 + b"}",
    "nested a hundred thousand deep": deep(100_000).encode(),
    "nested nine hundred deep": b'{"code": ' + deep(900).encode() + b"}",
    "nested one deeper than is read": b'{"code": ' + deep(49).encode() + b"}",
    "character zero": rb'{"code": "A\u0000"}',
    "half of a surrogate pair": rb'{"code": "\ud800"}',
    "character zero in a key": rb'{"co\u0000de": "A"}',
}


@pytest.mark.parametrize("body", UNREADABLE.values(), ids=UNREADABLE)
def test_what_cannot_be_read_is_answered_with_the_reason(body, owner_client):
    refused = send(owner_client, body)

    assert problem(refused) == (400, "unreadable-request")
    assert len(refused.json()["detail"]) > 20
    assert not Facility.objects.exists()


READABLE_BUT_WRONG = {
    "a list": (b"[]", {"": "invalid"}),
    "a text": (b'"code"', {"": "invalid"}),
    "a number": (b"5", {"": "invalid"}),
    "null": (b"null", {"": "null"}),
    "an unknown key": (GOOD[:-1] + b', "colour": 1}', {"/colour": "unknown"}),
    "a key with a slash and a tilde": (GOOD[:-1] + b', "a/b~c": 1}', {"/a~1b~0c": "unknown"}),
    "a wrong type": (GOOD.replace(b'"A"', b"{}", 1), {"/code": "invalid"}),
    "a list where a text belongs": (GOOD.replace(b'"A"', deep(48).encode(), 1), {"/code": "invalid"}),
}


@pytest.mark.parametrize(("body", "expected"), READABLE_BUT_WRONG.values(), ids=READABLE_BUT_WRONG)
def test_what_is_json_but_wrong_is_pointed_at(body, expected, owner_client):
    refused = send(owner_client, body)

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == expected
    assert not Facility.objects.exists()


def test_a_clock_time_without_offset_is_refused(owner_client):
    body = {"name": "gateway", "role": "gateway", "expires_at": "2026-12-01T10:00:00"}

    refused = owner_client.post("/api/v1/keys", body, format="json")

    assert faults(refused) == {"/expires_at": "no_offset"}
    assert "-05:00" in refused.json()["errors"][0]["detail"]


@pytest.mark.parametrize("text", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"])
def test_a_clock_time_at_the_end_of_the_calendar_is_refused(text, owner_client):
    body = {"name": "x", "role": "reader", "expires_at": text}

    refused = owner_client.post("/api/v1/keys", body, format="json")

    assert problem(refused) == (422, "invalid-content")
    assert list(faults(refused)) == ["/expires_at"]


@pytest.mark.parametrize("size", [5 * 2**20 + 1, 10 * 2**20])
def test_a_body_beyond_the_limit_is_refused_with_the_limit(size, owner_client, settings):
    body = b'{"code": "' + b"x" * (size - len(b'{"code": ""}')) + b'"}'

    refused = send(owner_client, body)

    assert problem(refused) == (413, "too-large")
    assert str(settings.DATA_UPLOAD_MAX_MEMORY_SIZE) in refused.json()["detail"]


def test_a_body_of_exactly_the_limit_is_read(owner_client, settings):
    limit = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    body = b'{"code": "' + b"x" * (limit - len(b'{"code": ""}')) + b'"}'

    assert problem(send(owner_client, body)) == (422, "invalid-content")


@pytest.mark.parametrize(
    "media_type",
    [
        "text/plain",
        "application/xml",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "nonsense",
    ],
)
def test_another_media_type_is_refused(media_type, owner_client):
    refused = send(owner_client, GOOD, media_type)

    assert problem(refused) == (415, "wrong-media-type")


@pytest.mark.parametrize(
    "media_type", ["application/json", "application/json; charset=utf-8", "APPLICATION/JSON"]
)
def test_json_is_json_however_it_is_spelt(media_type, owner_client):
    assert send(owner_client, GOOD, media_type).status_code == 201


def test_a_client_that_wants_something_else_than_json_is_told(owner_client):
    assert problem(owner_client.get(ROOT, headers={"Accept": "text/html"})) == (406, "not-acceptable")


@pytest.mark.parametrize(
    "path", ["/api/v1/nothing", "/api/v1/facilities/", "/api/v1/facilities/1/nothing", "/x"]
)
def test_an_unknown_route_is_a_problem_document(path, owner_client):
    assert problem(owner_client.get(path)) == (404, "not-found")


@pytest.mark.parametrize("verb", ["PUT", "DELETE", "PATCH", "OPTIONS"])
def test_a_verb_that_does_not_exist_here_is_a_problem_document(verb, owner_client):
    assert problem(owner_client.generic(verb, ROOT, "{}", "application/json")) == (405, "method-not-allowed")


def test_a_host_that_is_not_ours_is_a_problem_document(owner_client):
    assert problem(owner_client.get(ROOT, headers={"Host": "evil.example"})) == (400, "unreadable-request")


def test_a_fault_of_ours_is_a_problem_document_without_the_traceback(owner_client, monkeypatch):
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret detail")

    monkeypatch.setattr(Facilities, "get", broken)
    owner_client.raise_request_exception = False

    answer = owner_client.get(ROOT)

    assert problem(answer) == (500, "our-fault")
    assert "secret detail" not in answer.content.decode()


@pytest.mark.parametrize("key", ["", "k" * 201])
def test_a_key_for_repeats_has_1_to_200_characters(key, owner_client):
    refused = owner_client.generic(
        "POST", ROOT, GOOD, content_type="application/json", headers={"Idempotency-Key": key}
    )

    assert problem(refused) == (422, "invalid-content")


@pytest.mark.parametrize(
    "text", ["Ψαρά", "港 3", "🚤", "a'; DROP TABLE equipment_facility; --", "<script>", "%s %(x)s", "\u200bx"]
)
def test_any_other_text_is_kept_as_it_was_sent(text, own, owner_client):
    body = json.dumps({"kind": "hose", "tag": "H1", "label": text})

    stored = owner_client.generic("POST", at(own, "/components"), body, content_type="application/json")

    assert stored.json()["label"] == text
    assert Component.objects.get(tag="H1").label == text


def test_types_of_problems_are_stable_names_and_each_has_one_title(owner_client):
    """RFC 9457, 3.1.1 and 3.1.3: `type` identifies, `title` does not vary between occurrences."""
    two = [send(owner_client, body).json() for body in (b"{}", b'{"x": 1}')]

    assert two[0]["type"] == two[1]["type"] == "urn:problem:invalid-content"
    assert two[0]["title"] == two[1]["title"]


@pytest.mark.parametrize(
    "text",
    ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "0001-01-01", "1899-12-31", "9001-01-01"],
)
def test_a_moment_near_the_ends_of_the_calendar_is_refused_with_the_years_that_are_read(text):
    with pytest.raises(ValidationError, match="1900 to 2300"):
        MomentField().run_validation(text)


def test_too_many_requests_are_told_when_to_come_back(owner_client, contractor_client, monkeypatch):
    """RFC 6585, 4 (429) and RFC 9110, 10.2.3 (Retry-After in seconds)."""
    monkeypatch.setattr(KeyThrottle, "THROTTLE_RATES", {"key": "2/min"})

    answers = [owner_client.get(ROOT) for _ in range(3)]

    assert [one.status_code for one in answers[:2]] == [200, 200]
    assert problem(answers[2]) == (429, "too-many-requests")
    assert 0 < int(answers[2].headers["Retry-After"]) <= 60
    assert contractor_client.get(ROOT).status_code == 200


def test_what_only_the_database_refuses_is_a_conflict_and_leaves_nothing_behind(owner_client, monkeypatch):
    """Two at the same moment both pass our check; here the check is taken away instead of racing for real."""
    send(owner_client, GOOD)
    monkeypatch.setattr(register, "clean", lambda row: None)

    refused = send(owner_client, GOOD)

    assert problem(refused) == (409, "conflict")
    assert Facility.objects.count() == 1
    assert FacilityAccess.objects.count() == 1

"""How a body comes and how it is spelt. RFC 9110 (8.4 Content-Encoding, 8.6 Content-Length, 15.5.12 411, 15.5.16 415),
RFC 8259 (4 names in an object, 6 numbers, 8.1 UTF-8)."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from equipment.models import Facility
from tests.equipment.api.calls import faults, problem

ROOT = "/api/v1/facilities"
GOOD = b'{"code": "A", "name": "A", "time_zone": "America/New_York"}'


def send(
    client: APIClient, body: bytes = GOOD, content_type: str = "application/json", **headers: str
) -> Any:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.generic("POST", ROOT, body, content_type=content_type, headers=named)


def test_a_body_in_chunks_is_refused_and_not_taken_for_an_empty_one(owner_client):
    refused = owner_client.generic("POST", ROOT, "", headers={"Transfer-Encoding": "chunked"})

    assert problem(refused) == (411, "length-required")
    assert "Content-Length" in refused.json()["detail"]


@pytest.mark.parametrize("packing", ["gzip", "br", "deflate, gzip", "x" * 300])
def test_a_packed_body_is_refused(packing, owner_client):
    refused = send(owner_client, Content_Encoding=packing)

    assert problem(refused) == (415, "wrong-media-type")
    assert "Content-Encoding" in refused.json()["detail"]
    assert not Facility.objects.exists()


@pytest.mark.parametrize("charset", ["iso-8859-1", "utf-16", "utf-7", "nonsense", "cp1252"])
def test_another_charset_than_utf_8_is_refused(charset, owner_client):
    refused = send(owner_client, content_type=f"application/json; charset={charset}")

    assert problem(refused) == (415, "wrong-media-type")
    assert "UTF-8" in refused.json()["detail"]
    assert not Facility.objects.exists()


@pytest.mark.parametrize("charset", ["utf-8", "UTF-8", '"utf-8"', "utf8"])
def test_utf_8_is_read_however_it_is_spelt(charset, owner_client):
    stored = send(
        owner_client, content_type=f"application/json; charset={charset}", Content_Encoding="identity"
    )

    assert stored.status_code == 201


@pytest.mark.parametrize(
    ("body", "name"),
    [
        (GOOD[:-1] + b', "name": "B"}', '"name"'),
        (GOOD[:-1] + b', "a": {"b": 1, "b": 1}}', '"b"'),
        (b'[{"x": 1}, {"y": 1, "y": 2}]', '"y"'),
        (rb'{"\ud800": 1, "\ud800": 2}', r"\ud800"),
        (rb'{"code": 1, "c\u006fde": 2}', '"code"'),
    ],
)
def test_a_name_that_stands_twice_in_one_object_is_refused_by_name(body, name, owner_client):
    refused = send(owner_client, body)

    assert problem(refused) == (400, "unreadable-request")
    assert f"{name}" in refused.json()["detail"]
    assert not Facility.objects.exists()


def test_the_same_name_in_two_objects_is_no_repetition(owner_client):
    refused = send(owner_client, GOOD[:-1] + b', "a": {"name": 1}}')

    assert faults(refused) == {"/a": "unknown"}


@pytest.mark.parametrize("number", ["9" * 5000, "-" + "9" * 401, "0." + "1" * 500])
def test_a_number_of_very_many_digits_is_refused_in_our_own_words(number, owner_client):
    refused = send(owner_client, f'{{"owner_tank_count": {number}}}'.encode())

    assert problem(refused) == (400, "unreadable-request")
    assert "400 are read at most" in refused.json()["detail"]


@pytest.mark.parametrize(("digits", "status"), [(400, 422), (401, 400)])
def test_four_hundred_digits_are_a_number_and_one_more_is_not(digits, status, owner_client):
    """At 400 the number is read, and refused where it stands for being no count of tanks."""
    assert send(owner_client, f'{{"owner_tank_count": {"9" * digits}}}'.encode()).status_code == status


def test_many_digits_in_a_text_are_a_text(owner_client):
    refused = send(owner_client, f'{{"code": "{"9" * 500}", "name": {"9" * 300}.5}}'.encode())

    assert faults(refused)["/code"] == "max_length"

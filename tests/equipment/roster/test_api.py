"""Rosters over the API."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from equipment.api import rosters
from equipment.models import Facility, Tank
from equipment.vocabulary import KeyRole
from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import problem
from tests.equipment.roster.files import GOOD, HEADER, MAPPING, SAMPLE, roster

ADDRESS = "/api/v1/rosters"


def upload(content: str | bytes, name: str = "tanks.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content.encode() if isinstance(content, str) else content)


def send(client, content=None, *, mapping: str | None = MAPPING, **fields):
    parts = {"file": upload(roster(GOOD) if content is None else content), **fields}
    if mapping is not None:
        parts["mapping_file"] = upload(mapping, "map.toml")
    return client.post(ADDRESS, parts, format="multipart")


def details(answer) -> dict[str, str]:
    return {one["pointer"]: one["detail"] for one in answer.json()["errors"]}


def test_a_roster_is_imported_and_reported_row_by_row(owner_client):
    answer = send(owner_client)

    assert answer.status_code == 200
    assert answer.json()["rows"] == [
        {"row": 2, "outcome": "imported", "facility": "S9", "tank": "1", "remarks": [], "differs": False}
    ]
    assert answer.json()["summary"]["components_added"] == 3


def test_the_public_sample_goes_through_one_request(owner_client):
    def send_sample():
        parts = {"file": upload(SAMPLE.read_bytes()), "mapping": "state-extract"}
        return owner_client.post(ADDRESS, parts, format="multipart").json()["summary"]

    assert send_sample()["rows"] == Tank.objects.count() == 402
    assert send_sample()["unchanged"] == 402


def test_a_dry_run_stores_nothing(owner_client):
    answer = send(owner_client, dry_run="true")

    assert (answer.json()["summary"]["dry_run"], Facility.objects.exists()) == (True, False)


def test_constants_and_the_day_of_the_roster_may_be_sent(owner_client):
    send(owner_client, constants=json.dumps({"time_zone": "America/Chicago"}), as_of="2026-03-01")

    facility = Facility.objects.get()
    assert facility.time_zone == "America/Chicago"
    assert str(facility.status_changes.get().effective_on) == "2026-03-01"


@pytest.mark.parametrize(
    ("fields", "pointer", "words"),
    [
        ({"operator": "999999"}, "/operator", "no such operator organisation of yours"),
        ({"as_of": "2999-01-01"}, "/as_of", "lies in the future"),
        ({"constants": "[1]"}, "/constants", "Send a JSON object"),
        ({"constants": '{"time_zone": "Mars"}'}, "/mapping_file", "code list of facility.time_zone"),
        ({"colour": "red"}, "/colour", "No such key here"),
        ({"mapping": "state-extract"}, "/mapping", "either mapping or mapping_file"),
        ({"content": ""}, "/file", "the first line names the columns"),
        ({"content": roster(GOOD, header=HEADER.upper())}, "/file", "needs the column 'site'"),
        ({"mapping_": MAPPING.replace("[identity]", "[identiti]")}, "/mapping_file", "no such key"),
        ({"mapping_": None, "mapping": "no-such"}, "/mapping", "shipped: state-extract"),
        ({"mapping_": None}, "/mapping", "either mapping or mapping_file"),
    ],
)
def test_a_faulty_request_names_the_part_and_the_mend(fields, pointer, words, owner_client):
    mapping = fields.pop("mapping_", MAPPING) if "mapping_" in fields else MAPPING
    content = fields.pop("content", None)

    parts = {"file": upload(roster(GOOD) if content is None else content), **fields}
    if mapping is not None:
        parts["mapping_file"] = upload(mapping, "map.toml")
    answer = owner_client.post(ADDRESS, parts, format="multipart")

    assert problem(answer) == (422, "invalid-content")
    assert words in details(answer)[pointer]
    assert not Facility.objects.exists()


def test_a_foreign_operator_answers_like_one_that_does_not_exist(owner_client, stranger):
    foreign, nowhere = send(owner_client, operator=stranger.pk), send(owner_client, operator=10**9)

    assert foreign.json() == nowhere.json()
    assert details(foreign) == {"/operator": "no such operator organisation of yours"}


def test_too_many_rows_are_refused_and_none_is_stored(owner_client, monkeypatch):
    monkeypatch.setattr(rosters, "MAX_ROWS", 2)
    rows = [GOOD.replace("S9,1", f"S{number},1") for number in range(3)]

    answer = send(owner_client, roster(*rows))

    assert problem(answer) == (413, "too-large")
    assert "import_roster" in answer.json()["detail"]
    assert not Facility.objects.exists()


def test_a_request_that_is_too_large_is_refused_before_it_is_read(owner_client):
    assert problem(send(owner_client, "x" * rosters.MAX_BYTES)) == (413, "too-large")


def test_json_is_the_wrong_type_here(owner_client):
    assert problem(owner_client.post(ADDRESS, {}, format="json")) == (415, "wrong-media-type")


@pytest.mark.parametrize(
    ("role", "status"), [(KeyRole.MANAGER, 200), (KeyRole.STAFF, 200), (KeyRole.READER, 403)]
)
def test_managers_and_staff_import_and_readers_do_not(role, status, owner):
    client = client_of(owner)
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(owner, role)}")

    assert send(client).status_code == status


def test_a_contractor_imports_nothing(contractor_client, own):
    assert problem(send(contractor_client)) == (403, "not-allowed")


def test_without_a_key_nothing_is_learnt(client, db):
    assert problem(client.post(ADDRESS, {"file": upload(roster(GOOD))})) == (401, "no-valid-key")


def test_the_same_numbers_of_a_stranger_stay_the_strangers(owner_client, stranger_client):
    send(owner_client)
    send(stranger_client, roster(GOOD.replace("12000", "500")))

    assert list(Tank.objects.order_by("pk").values_list("compartment_capacity_gallons", flat=True)) == [
        12_000,
        500,
    ]


def test_shipped_mappings_are_listed_with_their_file(owner_client):
    listed = owner_client.get(f"{ADDRESS}/mappings").json()

    assert [one["name"] for one in listed] == ["state-extract"]
    assert send(owner_client, mapping=listed[0]["toml"], content=SAMPLE.read_bytes()).status_code == 200


@pytest.mark.parametrize(
    "content",
    [bytes(range(128, 256)) * 4, b"\xff\xfe,\xfd\n1,2\n", b"facility_id,\x80,\x80\n", b"\xc3\n"],
    ids=["random bytes", "another encoding", "an undecodable column twice", "half a character"],
)
def test_a_file_that_is_no_text_is_refused_with_its_bytes_spelt_out(content, owner_client):
    """RFC 8259, 8.1: an answer is UTF-8, which has no place for half of a surrogate pair."""
    refused = send(owner_client, content)

    assert problem(refused) == (422, "invalid-content")
    assert "/file" in details(refused)


def test_an_undecodable_byte_in_a_row_is_told_in_the_report(owner_client):
    answer = send(owner_client, roster(GOOD).encode().replace(b"S9", b"S\xff9"))

    assert answer.status_code == 200
    assert "0xff" in answer.json()["rows"][0]["remarks"][0]["reason"]

"""Records with photos and papers, over HTTP."""

import pytest

from tests.equipment.api.calls import at, faults, post
from tests.equipment.files import TEXT, attached

pytestmark = pytest.mark.usefixtures("attachment_folder")

WALK = {"activity": "walkthrough", "performed_at": "2026-03-04", "measurements": {"areas": ["spill"]}}


def visit(client, facility, attachments, **stated):
    body = {"records": [{**WALK, "attachments": attachments, **stated}]}
    return post(client, at(facility, "/records"), body)


def test_a_record_shows_its_files_when_it_is_posted_and_whenever_it_is_read(own, owner_client):
    photo, note = attached(own), attached(own, TEXT, name="note.txt")

    posted = visit(owner_client, own, [photo.pk, note.pk])

    [record] = posted.json()["records"]
    assert posted.status_code == 201
    assert [(one["id"], one["name"], one["withdrawn"]) for one in record["attachments"]] == [
        (photo.pk, "sump.png", False),
        (note.pk, "note.txt", False),
    ]
    assert owner_client.get(at(own, f"/records/{record['id']}")).json() == record
    assert owner_client.get(at(own, "/records")).json()["results"] == [record]


@pytest.mark.parametrize(
    ("attachments", "pointer", "code"),
    [
        ([999_999], "/records/0/attachments/0", "unknown"),
        (["1"], "/records/0/attachments/0", "invalid"),
        ([0], "/records/0/attachments/0", "min_value"),
        (list(range(1, 30)), "/records/0/attachments", "max_length"),
        ("x", "/records/0/attachments", "not_a_list"),
    ],
)
def test_a_file_that_cannot_be_shown_is_refused_where_it_is_named(
    own, owner_client, attachments, pointer, code
):
    assert faults(visit(owner_client, own, attachments)) == {pointer: code}


def test_a_file_of_another_facility_is_refused_like_one_that_does_not_exist(own, foreign, owner_client):
    theirs = attached(foreign).pk

    details = [
        visit(owner_client, own, [number]).json()["errors"][0]["detail"].replace(str(number), "N")
        for number in (theirs, 999_999)
    ]

    assert details[0] == details[1]


def test_the_same_id_with_another_file_is_another_report(own, owner_client):
    first = visit(owner_client, own, [attached(own).pk], external_id="w-1")
    second = visit(owner_client, own, [attached(own, TEXT).pk], external_id="w-1")

    assert (first.status_code, second.status_code) == (201, 409)


def test_reading_records_takes_the_same_number_of_queries_for_many_files(
    own, owner_client, django_assert_max_num_queries
):
    for number in range(6):
        visit(owner_client, own, [attached(own, b"note %d" % number).pk])

    with django_assert_max_num_queries(12):
        answer = owner_client.get(at(own, "/records"))

    assert all(one["attachments"] for one in answer.json()["results"])

"""Photos and papers over HTTP. RFC 7578 (forms), RFC 6266 and 8187 (names), RFC 9110 13.1.2 (304), RFC 9457."""

import hashlib
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile

from equipment.models import Attachment
from equipment.services.attachments import MAX_BYTES
from equipment.vocabulary import AccessRole
from tests import world
from tests.conftest import client_of
from tests.equipment.api.calls import at, faults, problem
from tests.equipment.files import JPEG, PDF, PNG, TEXT, attached

pytestmark = pytest.mark.usefixtures("attachment_folder")


def send(client, facility, content: bytes = PNG, name: str = "sump.png", claimed: str = "image/png", **parts):
    form = {"file": SimpleUploadedFile(name, content, claimed)} | parts
    return client.post(at(facility, "/attachments"), form, format="multipart")


def content(client, number: int, **headers: str):
    return client.get(f"/api/v1/attachments/{number}/content", headers=headers)


def test_a_photo_is_kept_and_answered_as_it_was_sent(own, owner_client):
    sent = send(owner_client, own)

    assert sent.status_code == 201
    facts = sent.json()
    assert (facts["name"], facts["media_type"], facts["size_bytes"]) == ("sump.png", "image/png", len(PNG))
    assert (facts["facility"], facts["submitted_by"]) == (own.pk, "Own Marinas")
    assert facts["sha256"] == hashlib.sha256(PNG).hexdigest()
    assert owner_client.get(f"/api/v1/attachments/{facts['id']}").json() == facts
    assert owner_client.get(at(own, "/attachments")).json()["results"] == [facts]
    assert content(owner_client, facts["id"]).content == PNG


def test_the_same_file_again_is_answered_with_what_is_on_file(own, owner_client):
    first, second = send(owner_client, own), send(owner_client, own, name="again.png")

    assert (first.status_code, second.status_code) == (201, 200)
    assert first.json() == second.json()


@pytest.mark.parametrize(
    ("sent", "kind"),
    [(JPEG, "image/jpeg"), (PDF, "application/pdf"), (TEXT, "text/plain"), (PNG, "image/png")],
)
def test_the_kind_is_that_of_the_bytes_and_not_the_one_that_was_claimed(own, owner_client, sent, kind):
    facts = send(owner_client, own, sent, name="x.html", claimed="text/html").json()

    assert facts["media_type"] == kind
    assert content(owner_client, facts["id"]).headers["Content-Type"].partition(";")[0] == kind


@pytest.mark.parametrize("accept", ["*/*", "image/*", "text/html", "application/json"])
def test_a_browser_saves_it_and_runs_nothing_in_it(own, owner_client, accept):
    """A text that hides markup is the worst that can be kept."""
    kept = attached(own, b"x<script>1</script>", name='a"b\u00e9.html')

    answer = content(owner_client, kept.pk, Accept=accept)

    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert answer.headers["Content-Disposition"] == "attachment; filename*=utf-8''a%22b%C3%A9.html.txt"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert "no-cache" in answer.headers["Cache-Control"]


def test_whoever_has_the_bytes_is_told_so(own, owner_client):
    kept = attached(own)
    tag = content(owner_client, kept.pk).headers["ETag"]

    again = content(owner_client, kept.pk, If_None_Match=tag)
    other = content(owner_client, kept.pk, If_None_Match='"x"')

    assert tag == f'"{hashlib.sha256(PNG).hexdigest()}"'
    assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)
    assert other.content == PNG


def test_the_head_of_a_file_is_that_of_its_content(own, owner_client):
    head = owner_client.head(f"/api/v1/attachments/{attached(own).pk}/content")

    assert (head.status_code, head.content, head.headers["Content-Length"]) == (200, b"", str(len(PNG)))


@pytest.mark.parametrize(
    ("sent", "name", "code"),
    [
        (b"", "empty.png", "empty"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "drawing.svg", "wrong-kind"),
        (b"<!doctype html>", "page.txt", "wrong-kind"),
        (b"MZ\x90\x00", "photo.jpg", "wrong-kind"),
        (PNG, "x" * 200 + ".png", "max_length"),
    ],
)
def test_what_is_not_kept_is_told_where_it_stands(own, owner_client, sent, name, code):
    refused = send(owner_client, own, sent, name)

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == {"/file": code}
    assert not Attachment.objects.exists()


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({}, {"/file": "required"}),
        ({"file": "a text"}, {"/file": "invalid"}),
        (
            {"file": [SimpleUploadedFile("a.png", PNG), SimpleUploadedFile("b.txt", TEXT)]},
            {"/file": "repeated"},
        ),
        ({"photo": SimpleUploadedFile("a.png", PNG)}, {"/file": "required", "/photo": "unknown"}),
    ],
)
def test_a_form_without_a_file_or_with_more_is_refused(own, owner_client, form, told):
    refused = owner_client.post(at(own, "/attachments"), form, format="multipart")

    assert problem(refused) == (422, "invalid-content")
    assert faults(refused) == told
    assert not Attachment.objects.exists()


def test_a_file_of_more_than_ten_mebibytes_is_refused(own, owner_client):
    over = send(owner_client, own, b"x" * (MAX_BYTES + 1), "levels.txt")
    far_over = owner_client.generic(
        "POST", at(own, "/attachments"), b"x", content_type="multipart/form-data; boundary=b",
        CONTENT_LENGTH=str(MAX_BYTES * 2),
    )  # fmt: skip

    assert faults(over) == {"/file": "too-large"}
    assert problem(far_over) == (413, "too-large")


@pytest.mark.parametrize("kind", ["application/json", "image/png", "text/plain"])
def test_a_body_that_is_no_form_is_refused_and_says_what_to_send(own, owner_client, kind):
    refused = owner_client.generic("POST", at(own, "/attachments"), PNG, content_type=kind)

    assert problem(refused) == (415, "wrong-media-type")
    assert "multipart/form-data" in refused.json()["detail"]


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b"x"),
        ("multipart/form-data; boundary=b", b"--b\r\nbroken"),
        ("multipart/form-data; boundary=" + "b" * 300, b"x"),
    ],
)
def test_a_broken_form_is_answered_with_a_problem(own, owner_client, kind, body):
    refused = owner_client.generic("POST", at(own, "/attachments"), body, content_type=kind)

    assert problem(refused)[0] in (400, 415, 422)
    assert not Attachment.objects.exists()


@pytest.mark.parametrize(
    ("sent", "kept"),
    [("../../etc/x.png", "x.png"), ("C:\\photos\\x.png", "x.png"), ("a\x00b\x1f.png", "ab.png")],
)
def test_of_a_name_with_a_path_the_last_part_is_kept(own, owner_client, sent, kept):
    """RFC 7578, 4.2: directory path information is not to be used."""
    upload = SimpleUploadedFile("x", PNG)
    upload._name = sent  # what a sender writes, past the test client's own cutting

    facts = owner_client.post(at(own, "/attachments"), {"file": upload}, format="multipart").json()

    assert facts["name"] == kept


def test_a_missing_file_is_told_as_a_problem_and_an_untouched_one_is_still_answered(own, owner_client):
    gone, there = attached(own), attached(own, TEXT)
    Path(default_storage.path(gone.stored_name)).unlink()

    refused = content(owner_client, gone.pk)

    assert problem(refused) == (500, "stored-file-damaged")
    assert refused.json()["attachment"] == gone.pk
    assert "Content-Disposition" not in refused.headers
    assert content(owner_client, there.pk).content == TEXT


def withdraw(client, number: int, reason: str = "another sump"):
    return client.post(f"/api/v1/attachments/{number}/withdrawal", {"reason": reason}, format="json")


def test_a_file_is_taken_back_with_a_reason_and_stays_readable(own, owner_client):
    number = attached(own).pk

    taken = withdraw(owner_client, number)

    assert (taken.status_code, taken.json()["withdrawn_reason"]) == (200, "another sump")
    assert withdraw(owner_client, number).status_code == 200
    assert withdraw(owner_client, number, "no reason").status_code == 409
    assert content(owner_client, number).content == PNG


def test_a_contractor_attaches_and_takes_back_its_own_but_not_the_operators(
    own, owner_client, contractor_client
):
    mine = send(contractor_client, own).json()["id"]
    theirs = send(owner_client, own, TEXT).json()["id"]

    assert withdraw(contractor_client, mine).status_code == 200
    assert withdraw(contractor_client, theirs).status_code == 403


def test_an_agency_reads_files_and_sends_none(own, stranger):
    world.grant(stranger, own, AccessRole.AGENCY)
    agency, number = client_of(stranger), attached(own).pk

    assert content(agency, number).content == PNG
    assert send(agency, own, TEXT).status_code == 403
    assert withdraw(agency, number).status_code == 403


def test_a_stranger_with_the_very_same_file_learns_nothing(own, foreign, stranger_client):
    mine = attached(own)

    sent = send(stranger_client, foreign)

    assert (sent.status_code, sent.json()["id"] != mine.pk) == (201, True)
    assert content(stranger_client, mine.pk).status_code == 404
    assert send(stranger_client, own).status_code == 404

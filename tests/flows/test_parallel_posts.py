"""The same request twenty times at once: one record, twenty equal answers. On PostgreSQL and on a SQLite file."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections
from rest_framework.test import APIClient

from equipment.models import Attachment, Record, Submission
from equipment.services.attachments import content_of
from tests import world
from tests.equipment.files import PNG

TIMES = 20
BODY = {
    "records": [
        {
            "activity": "walkthrough",
            "performed_at": "2026-03-02",
            "measurements": {"areas": ["spill", "release detection"]},
        }
    ]
}


@pytest.fixture
def post(transactional_db):
    owner = world.organisation("Own Marinas")
    facility = world.facility(owner)
    secret = world.key(owner)

    def send(body: dict, headers: dict[str, str]):
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
        try:
            return client.post(
                f"/api/v1/facilities/{facility.pk}/records", body, format="json", headers=headers
            )
        finally:
            connections.close_all()

    return send


def at_once(post, bodies: list[dict], headers: dict[str, str]) -> list:
    with ThreadPoolExecutor(max_workers=TIMES) as pool:
        return list(pool.map(lambda body: post(body, headers), bodies))


def test_one_key_gives_one_record_and_one_answer(post):
    answers = at_once(post, [BODY] * TIMES, {"Idempotency-Key": "k-1"})

    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert (Record.objects.count(), Submission.objects.count()) == (1, 1)


def test_one_external_id_gives_one_record(post):
    [record] = BODY["records"]

    answers = at_once(post, [{"records": [record | {"external_id": "round-1"}]}] * TIMES, {})

    assert sorted(answer.status_code for answer in answers) == [200] * (TIMES - 1) + [201]
    assert Record.objects.count() == 1


def test_one_external_id_with_twenty_contents_gives_one_record_and_nineteen_conflicts(post):
    [record] = BODY["records"]
    bodies = [
        {"records": [record | {"external_id": "round-1", "note": f"sheet {number}"}]}
        for number in range(TIMES)
    ]

    answers = at_once(post, bodies, {})

    assert sorted(answer.status_code for answer in answers) == [201] + [409] * (TIMES - 1)
    assert Record.objects.get().conflicts.count() == TIMES - 1


def test_one_photo_sent_twenty_times_at_once_is_one_attachment(transactional_db, attachment_folder):
    facility = world.facility(world.organisation("Own Marinas"))
    secret = world.key(facility.operator)

    def send(number: int):
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
        photo = SimpleUploadedFile(f"photo-{number}.png", PNG)
        try:
            path = f"/api/v1/facilities/{facility.pk}/attachments"
            return client.post(path, {"file": photo}, format="multipart")
        finally:
            connections.close_all()

    with ThreadPoolExecutor(max_workers=TIMES) as pool:
        answers = list(pool.map(send, range(TIMES)))

    assert sorted(answer.status_code for answer in answers) == [200] * (TIMES - 1) + [201]
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert content_of(Attachment.objects.get()) == PNG
    assert len([path for path in attachment_folder.rglob("*") if path.is_file()]) == 1


def test_the_tests_run_on_a_database_that_more_than_one_can_use(db):
    """An in-memory SQLite would hide every locking fault that the tests above look for."""
    assert connection.vendor == "postgresql" or not connection.is_in_memory_db()

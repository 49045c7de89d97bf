"""Answers to alarms with photos and papers."""

import pytest
import time_machine
from django.db import IntegrityError, transaction

from alarms.models import Disposition, DispositionAttachment
from tests.alarms.sites import raised
from tests.alarms.test_disposition_api import CONTAINED, LATER, send
from tests.equipment.api.calls import faults
from tests.equipment.files import TEXT, attached

pytestmark = pytest.mark.usefixtures("attachment_folder")


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def alarm(site):
    return raised(site, "SN1", "sump-fuel")


def test_an_answer_shows_the_photos_and_papers_that_prove_it(alarm, site, owner_client):
    photo, note = attached(site), attached(site, TEXT, name="service.txt")

    stated = send(
        owner_client, alarm, "dispositions", CONTAINED | {"attachments": [photo.pk, note.pk]}
    ).json()

    assert [one["name"] for one in stated["attachments"]] == ["sump.png", "service.txt"]
    [listed] = owner_client.get(f"/api/v1/alarms/{alarm.pk}/dispositions").json()["results"]
    assert listed == stated


def test_an_answer_needs_no_file(alarm, owner_client):
    assert send(owner_client, alarm, "dispositions", CONTAINED).json()["attachments"] == []


def test_a_file_of_another_facility_is_unknown_and_nothing_is_stated(alarm, foreign, owner_client):
    body = CONTAINED | {"attachments": [attached(foreign).pk]}

    refused = send(owner_client, alarm, "dispositions", body)

    assert faults(refused) == {"/attachments/0": "unknown"}
    assert not Disposition.objects.exists()


def test_the_database_lets_no_answer_show_a_file_of_another_facility(alarm, foreign, owner_client):
    number = send(owner_client, alarm, "dispositions", CONTAINED).json()["id"]

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        DispositionAttachment.objects.create(disposition_id=number, attachment=attached(foreign))

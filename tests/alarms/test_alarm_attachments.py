"""Photos and papers of an alarm: attached before anybody knows its answer, listed with those that its answers show."""

import pytest
import time_machine
from django.db import IntegrityError, transaction

from alarms.models import AlarmAttachment
from equipment.models import Facility
from equipment.services.stating import withdraw_fact
from equipment.vocabulary import AccessRole
from tests import world
from tests.alarms.sites import raised
from tests.alarms.test_disposition_api import CONTAINED, LATER, send
from tests.conftest import client_of
from tests.equipment.api.calls import faults
from tests.equipment.files import TEXT, attached
from tests.world import NOW

pytestmark = pytest.mark.usefixtures("attachment_folder")


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(LATER, tick=False):
        yield


@pytest.fixture
def alarm(site):
    return raised(site, "SN1", "sump-fuel")


def attach(client, alarm, *numbers):
    path = f"/api/v1/alarms/{alarm.pk}/attachments"
    return client.post(path, {"attachments": list(numbers)}, format="json")


def names(client, alarm) -> list[str]:
    return [one["name"] for one in client.get(f"/api/v1/alarms/{alarm.pk}/attachments").json()["results"]]


def test_a_photo_is_attached_once_however_often_it_is_named(alarm, site, owner_client):
    photo = attached(site).pk

    told = [attach(owner_client, alarm, photo, photo), attach(owner_client, alarm, photo)]

    assert [(one.status_code, one.json()) for one in told] == [(200, {"attached": 1}), (200, {"attached": 0})]
    assert names(owner_client, alarm) == ["sump.png"]
    kept = AlarmAttachment.objects.get()
    assert (kept.submitted_by, kept.attached_at) == (site.operator, LATER)


def test_the_alarm_shows_its_own_files_and_those_of_its_answers_each_once(alarm, site, owner_client):
    photo, note = attached(site), attached(site, TEXT, name="service.txt")
    attach(owner_client, alarm, photo.pk)

    send(owner_client, alarm, "dispositions", CONTAINED | {"attachments": [photo.pk, note.pk]})

    assert names(owner_client, alarm) == ["service.txt", "sump.png"]
    assert names(owner_client, raised(site, "T1", "high-water")) == []


def test_what_is_attached_makes_no_judgement_old(alarm, site, owner_client):
    """40 CFR 280.50: a photo is neither a report nor an exception."""
    photo = attached(site).pk
    before = Facility.objects.get(pk=site.pk).facts_version

    attach(owner_client, alarm, photo)

    assert Facility.objects.get(pk=site.pk).facts_version == before


@pytest.mark.parametrize(
    ("numbers", "told"),
    [
        ([], {"/attachments": "empty"}),
        ([999_999], {"/attachments/0": "unknown"}),
        (["1"], {"/attachments/0": "invalid"}),
    ],
)
def test_what_names_no_file_here_is_refused(alarm, owner_client, numbers, told):
    assert faults(attach(owner_client, alarm, *numbers)) == told


def test_one_file_that_cannot_be_attached_keeps_the_others_out(alarm, site, foreign, owner_client):
    gone = attached(site, TEXT)
    withdraw_fact(fact=gone, organisation=site.operator, reason="wrong sump", by="test", now=NOW)

    refused = attach(owner_client, alarm, attached(site).pk, gone.pk, attached(foreign).pk)

    assert faults(refused) == {"/attachments/1": "withdrawn", "/attachments/2": "unknown"}
    assert not AlarmAttachment.objects.exists()


def test_a_body_without_files_is_refused(alarm, owner_client):
    refused = owner_client.post(f"/api/v1/alarms/{alarm.pk}/attachments", {}, format="json")

    assert faults(refused) == {"/attachments": "required"}


def test_a_contractor_attaches_and_an_agency_only_reads(alarm, site, contractor_client, stranger):
    photo = attached(site).pk
    world.grant(stranger, site, AccessRole.AGENCY)

    assert attach(contractor_client, alarm, photo).status_code == 200
    assert attach(client_of(stranger), alarm, photo).status_code == 403
    assert names(client_of(stranger), alarm) == ["sump.png"]


def test_the_database_lets_no_alarm_have_a_file_of_another_facility(alarm, foreign):
    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        AlarmAttachment.objects.create(
            alarm=alarm,
            attachment=attached(foreign),
            submitted_by=alarm.facility.operator,
            attached_at=NOW,
            attached_by="test",
        )

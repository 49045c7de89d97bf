"""An event reaches us, mail climbs the call list, somebody answers, and the law's clock runs all the same."""

import json
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core import mail

from alarms.services import telling
from compliance.services import assess
from tests import world

NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)


@pytest.fixture
def site(own, owner_client):
    world.line(own)
    steps = [
        {"after_minutes": 0, "recipients": [{"name": "Dock", "email": "dock@own.example"}]},
        {"after_minutes": 15, "recipients": [{"name": "Manager", "email": "manager@own.example"}]},
    ]
    with time_machine.travel(NOW, tick=False):
        owner_client.put(
            f"/api/v1/facilities/{own.pk}/call-list",
            {"repeat_minutes": 60, "steps": steps},
            format="json",
            headers={"If-Match": "*"},
        )
    return own


def raise_alarm(client, site):
    body = {
        "source": "gateway-1",
        "events": [
            {
                "id": "e-1",
                "device": "SN1",
                "condition": "sump-fuel",
                "signal": "raised",
                "occurred_at": NOW.isoformat(),
            }
        ],
    }
    return client.post(f"/api/v1/facilities/{site.pk}/events", body, format="json")


def tell(at: datetime) -> list[str]:
    telling.drain(clock=lambda: at, at_most=timedelta(seconds=30))
    return [message.to[0] for message in mail.outbox]


@time_machine.travel(NOW, tick=False)
def test_mail_climbs_until_somebody_answers(site, owner_client):
    raise_alarm(owner_client, site)

    assert [address.split("<")[-1].strip(">") for address in tell(NOW)] == ["dock@own.example"]
    assert len(tell(NOW + timedelta(minutes=14))) == 1
    assert len(tell(NOW + timedelta(minutes=15))) == 2

    [alarm] = owner_client.get("/api/v1/alarms").json()["results"]
    owner_client.post(f"/api/v1/alarms/{alarm['id']}/acknowledgement", {"note": "On my way."}, format="json")

    assert len(tell(NOW + timedelta(hours=5))) == 2


@time_machine.travel(NOW, tick=False)
def test_answering_an_alarm_stops_no_legal_clock(site, owner_client):
    """40 CFR 280.50: within 24 hours of discovery, whoever acknowledged what."""
    raise_alarm(owner_client, site)
    [alarm] = owner_client.get("/api/v1/alarms").json()["results"]
    owner_client.post(f"/api/v1/alarms/{alarm['id']}/acknowledgement", {}, format="json")

    assess.drain(clock=lambda: NOW)

    [clock] = owner_client.get("/api/v1/obligations", {"rule": "report-suspected-release"}).json()["results"]
    assert clock["subject"] == f"alarm:{alarm['id']}"
    assert datetime.fromisoformat(clock["due"]) == NOW + timedelta(hours=24)
    assert clock["standing"] == "due soon"


@time_machine.travel(NOW, tick=False)
def test_a_filed_report_answers_the_clock(site, owner_client):
    raise_alarm(owner_client, site)
    [alarm] = owner_client.get("/api/v1/alarms").json()["results"]
    assess.drain(clock=lambda: NOW)
    report = {
        "activity": "report-to-agency",
        "performed_at": NOW.isoformat(),
        "measurements": {"report": "suspected release"},
        "regarding": f"alarm:{alarm['id']}",
        "external_id": "call-1",
    }

    answer = owner_client.post(f"/api/v1/facilities/{site.pk}/records", {"records": [report]}, format="json")

    assert answer.status_code == 201, json.dumps(answer.json())
    moved = {move["rule"]: move["after"]["standing"] for move in answer.json()["moved"]}
    assert moved["report-suspected-release"] == "met"


@time_machine.travel(NOW + timedelta(hours=25), tick=False)
def test_a_device_clock_that_was_reset_erases_no_duty(site, owner_client):
    """40 CFR 280.50: the 24 hours run from the alarm that stands, whatever a console without its clock adds to it."""
    raise_alarm(owner_client, site)
    again = {"id": "e-2", "device": "SN1", "condition": "sump-fuel", "signal": "raised"}
    body = {"source": "gateway-1", "events": [again | {"occurred_at": "1970-01-01T00:00:00Z"}]}
    answer = owner_client.post(f"/api/v1/facilities/{site.pk}/events", body, format="json")

    assess.drain(clock=lambda: NOW + timedelta(hours=25))

    [clock] = owner_client.get("/api/v1/obligations", {"rule": "report-suspected-release"}).json()["results"]
    assert [remark["code"] for remark in answer.json()["remarks"]] == ["doubtful-clock"]
    assert (clock["standing"], datetime.fromisoformat(clock["due"])) == ("overdue", NOW + timedelta(hours=24))

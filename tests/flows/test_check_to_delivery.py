"""A check before an infrequent delivery, the delivery that names it, and the overfill alarm that it later explains."""

from datetime import UTC, datetime
from typing import Any

import pytest

from alarms.matching import Signal
from alarms.models import Alarm
from alarms.services.intake import Report, receive_events
from tests import world
from tests.equipment.api.calls import at, faults, post
from tests.equipment.statements import chart

RULE = "walkthrough-before-delivery-spill"
LOOKED = {
    "tag": "SB1",
    "undamaged": True,
    "liquid_removed": True,
    "fill_pipe_clear": True,
    "cap_secure": True,
}


@pytest.fixture(autouse=True)
def site(own):
    """Deliveries further apart than 30 days, and the exception chosen for them (40 CFR 280.36(a)(1)(i))."""
    parts = world.line(own)
    chart(own, parts["T1"], ((0, 0), (96, 10_000)))
    own.elected_spill_walkthrough = "before delivery"
    own.save()


def check(client, site, day: str = "2026-03-02T09:00:00-05:00", **change: Any) -> int:
    body = {
        "checked_at": day,
        "order_gal": 4_000,
        "tanks": [{"tag": "T1", "level_in": 40, "water_in": 0}],
        "spill_buckets": [LOOKED],
        "watcher": "R. Ames",
    }
    answer = post(client, at(site, "/delivery-checks"), body | change)
    assert answer.status_code == 201, answer.json()
    return int(answer.json()["id"])


def delivered(client, site, started_at: str, **fields: Any):
    body = {"subjects": ["T1"], "started_at": started_at, "watched_throughout": True}
    return post(client, at(site, "/deliveries"), body | fields)


def duty(client, site, delivery: int, rule: str = RULE) -> dict[str, Any]:
    told = client.get(at(site, "/obligations"), {"limit": 200}).json()["results"]
    [found] = [one for one in told if one["rule"] == rule and one["subject"] == f"delivery:{delivery}"]
    return dict(found)


def test_a_delivery_that_names_its_check_has_its_buckets_looked_at(own, owner_client):
    delivered(owner_client, own, "2025-12-01T09:00:00-05:00")
    number = check(owner_client, own)

    fuel = delivered(owner_client, own, "2026-03-02T10:00:00-05:00", check=number, delivered_gal=3_990).json()
    walk = {
        "activity": "walkthrough",
        "performed_at": "2026-03-03",
        "measurements": {"areas": ["release detection"]},
    }
    post(owner_client, at(own, "/records"), {"records": [walk]})

    assert (fuel["check"], fuel["ordered_gal"]) == (number, 4_000)
    assert fuel["ullage_gal"] == pytest.approx(10_000 * 0.95 - 40 / 96 * 10_000)
    assert duty(owner_client, own, fuel["id"])["standing"] == "met"
    assert duty(owner_client, own, fuel["id"], "delivery-ullage-check")["standing"] == "met"


def test_a_check_without_the_buckets_does_not_earn_the_exception(own, owner_client):
    delivered(owner_client, own, "2025-12-01T09:00:00-05:00")
    number = check(owner_client, own, spill_buckets=[LOOKED | {"liquid_removed": False}])

    fuel = delivered(owner_client, own, "2026-03-02T10:00:00-05:00", check=number).json()
    walk = {
        "activity": "walkthrough",
        "performed_at": "2026-03-03",
        "measurements": {"areas": ["release detection"]},
    }
    post(owner_client, at(own, "/records"), {"records": [walk]})

    assert duty(owner_client, own, fuel["id"])["standing"] != "met"


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"started_at": "2026-03-02T08:00:00-05:00"}, "order"),
        ({"started_at": "2026-03-01"}, "order"),
        ({"subjects": ["T1", "T2"]}, "wrong-kind"),
        ({"check": 9_999}, "unknown"),
    ],
)
def test_a_check_of_another_delivery_cannot_be_named(change, code, own, owner_client):
    world.component(own, "tank", "T2", parent="S1")
    stated = {"started_at": "2026-03-02T10:00:00-05:00", "check": check(owner_client, own)} | change

    assert faults(delivered(owner_client, own, **stated)) == {"/check": code}


def test_a_withdrawn_check_cannot_be_named(own, owner_client):
    number = check(owner_client, own)
    post(owner_client, at(own, f"/delivery-checks/{number}/withdrawal"), {"reason": "wrong tank"})

    assert faults(delivered(owner_client, own, "2026-03-02T10:00:00-05:00", check=number)) == {
        "/check": "unknown"
    }


def overfill(own, owner, device: str = "OV1") -> Alarm:
    raised = datetime(2026, 3, 2, 15, 30, tzinfo=UTC)
    report = Report(
        source="console",
        id="1",
        device=device,
        condition="overfill-level",
        signal=Signal.RAISED,
        occurred_at=raised,
    )
    receive_events(facility=own, source_org=owner, entered_by="test", events=[report], now=raised)
    return Alarm.objects.get()


def answered(client, own, alarm: Alarm, record: int):
    evidence = {
        "investigated_at": "2026-03-02T16:00:00Z",
        "cause": "a delivery into a warm tank",
        "record": record,
    }
    body = {"type": "non-release event", "at": "2026-03-02T16:10:00Z", "evidence": evidence}
    return post(client, f"/api/v1/alarms/{alarm.pk}/dispositions", body)


def test_an_answer_to_an_overfill_alarm_names_the_check(own, owner, owner_client):
    number = check(owner_client, own)
    alarm = overfill(own, owner)

    answer = answered(owner_client, own, alarm, number)

    assert answer.status_code == 201, answer.json()
    assert answer.json()["evidence"]["record"] == number


def test_a_check_after_the_alarm_explains_nothing(own, owner, owner_client):
    alarm = overfill(own, owner)
    number = check(owner_client, own, "2026-03-02T11:00:00-05:00")

    assert faults(answered(owner_client, own, alarm, number)) == {"/evidence/record": "order"}


def test_a_check_of_another_tank_explains_nothing(own, owner, owner_client):
    world.component(own, "tank", "T2", parent="S1", compartment_capacity_gallons=8_000.0)
    number = check(owner_client, own, tanks=[{"tag": "T2", "product_gal": 10, "water_gal": 0}], order_gal=100)
    alarm = overfill(own, owner)

    assert faults(answered(owner_client, own, alarm, number)) == {"/evidence/record": "wrong-kind"}

"""A month's function check: planned over the API, driven, closed by the timetable, and judged.

That its evidence comes within the 24 hours of 40 CFR 280.50 follows from windows of at most 8 hours; the monthly duty
is common practice, no source.
"""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.core import mail

from alarms.services import telling
from compliance.services import assess
from tests import world
from tests.alarms.sites import fallback

NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
DRIVEN, BACK, OVER = NOW + 1.25 * HOUR, NOW + 1.5 * HOUR, NOW + 9 * HOUR
MONTHLY, REPORT = "sensor-function-check-monthly", "report-suspected-release"


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def site(owner):
    made = world.facility(owner, "OWN", jurisdictions=["us-federal", "good-practice"])
    world.line(made)
    fallback(owner, "manager")
    return made


@pytest.fixture
def pass_time(clock):
    def to(moment: datetime) -> None:
        """The timetable does what is due by then."""
        clock.move_to(moment)
        telling.drain(clock=lambda: moment, at_most=HOUR)
        assess.drain(clock=lambda: moment)

    return to


def plan(client, site, starts_at: datetime, ends_at: datetime) -> dict:
    body = {
        "led_by": "R. Ames",
        "sensors": ["SN1"],
        "starts_at": starts_at.isoformat(),
        "ends_at": ends_at.isoformat(),
    }
    headers = {"Idempotency-Key": f"plan {starts_at}"}
    return client.post(
        f"/api/v1/facilities/{site.pk}/function-checks", body, format="json", headers=headers
    ).json()


def say(client, site, signal: str, at: datetime) -> None:
    event = {
        "id": f"{signal} {at}",
        "device": "SN1",
        "condition": "monitoring-liquid-high",
        "signal": signal,
        "occurred_at": at.isoformat(),
    }
    body = {"source": "gateway-1", "events": [event]}
    assert client.post(f"/api/v1/facilities/{site.pk}/events", body, format="json").status_code == 201


def obligation(client, rule: str) -> dict:
    [row] = client.get("/api/v1/obligations", {"rule": rule}).json()["results"]
    return row


def instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_a_sensor_that_answers_meets_its_month_and_its_alarm_starts_no_report(
    site, owner_client, clock, pass_time
):
    check = plan(owner_client, site, NOW + HOUR, OVER)
    for signal, at in (("raised", DRIVEN), ("cleared", BACK)):
        clock.move_to(at)
        say(owner_client, site, signal, at)
        pass_time(at)
    inside = obligation(owner_client, REPORT)
    pass_time(OVER)

    assert (inside["standing"], instant(inside["due"])) == ("due soon", DRIVEN + 24 * HOUR)
    assert not owner_client.get("/api/v1/obligations", {"rule": REPORT}).json()["results"]
    [closed] = owner_client.get(f"/api/v1/facilities/{site.pk}/function-checks").json()["results"]
    [sensor] = closed["sensors"]
    assert (closed["id"], instant(closed["closed_at"]), sensor["outcome"]) == (check["id"], OVER, "responded")
    month = obligation(owner_client, MONTHLY)
    assert (month["standing"], month["due"]) == ("met", "2026-04-30")
    record = owner_client.get(f"/api/v1/facilities/{site.pk}/records").json()["results"][0]
    assert (record["id"], record["activity"]) == (sensor["record"], "sensor-function-check")
    [alarm] = owner_client.get("/api/v1/alarms").json()["results"]
    assert (alarm["function_check"], alarm["state"], alarm["clock_until"]) == (check["id"], "normal", None)
    assert [message.subject.split(".")[0] for message in mail.outbox] == ["EXERCISE"]


def test_a_sensor_that_is_silent_has_failed_until_it_answers_in_a_further_check(
    site, owner_client, clock, pass_time
):
    plan(owner_client, site, NOW + HOUR, OVER)
    pass_time(OVER)
    silent = obligation(owner_client, MONTHLY)
    plan(owner_client, site, OVER, OVER + HOUR)
    for signal, minutes in (("raised", 10), ("cleared", 20)):
        at = OVER + timedelta(minutes=minutes)
        clock.move_to(at)
        say(owner_client, site, signal, at)
    pass_time(OVER + HOUR)

    assert silent["standing"] == "failed"
    assert obligation(owner_client, MONTHLY)["standing"] == "met"


def test_an_alarm_that_stands_at_the_end_is_called_and_keeps_its_24_hours(
    site, owner_client, clock, pass_time
):
    plan(owner_client, site, NOW + HOUR, OVER)
    clock.move_to(DRIVEN)
    say(owner_client, site, "raised", DRIVEN)
    pass_time(DRIVEN)
    pass_time(OVER)

    assert [message.subject.split(".")[0] for message in mail.outbox] == ["EXERCISE", "NO EXERCISE"]
    report = obligation(owner_client, REPORT)
    assert (report["standing"], instant(report["due"])) == ("due soon", DRIVEN + 24 * HOUR)
    assert obligation(owner_client, MONTHLY)["standing"] == "no record"
    [alarm] = owner_client.get("/api/v1/alarms").json()["results"]
    assert instant(alarm["stood_on_at"]) == OVER
    assert instant(alarm["clock_until"]) == DRIVEN + 24 * HOUR

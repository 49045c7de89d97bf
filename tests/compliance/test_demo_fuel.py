"""What the demo shows of fuel, and that its printed requests work as printed."""

import json
from itertools import pairwise

import pytest
import time_machine
from rest_framework.test import APIClient

from compliance.demo.building import build_cast, build_site
from compliance.demo.fuel import keep_fuel
from compliance.demo.scenario import SITES
from compliance.demo.showing_fuel import fuel_requests
from compliance.demo.staging import BEGINNING
from compliance.demo.telling import keep_call_list
from tests.world import NOW

ADDRESS = "http://testserver"


@pytest.fixture
def cast(db):
    return build_cast(since=NOW - BEGINNING, now=NOW)


@pytest.fixture
def fuel(cast):
    built = {}
    for site in SITES:
        if site.code in ("OSPREY", "TERN"):
            built[site.code] = build_site(site, cast, since=NOW - BEGINNING)
            keep_call_list(built[site.code], site, cast, now=NOW - BEGINNING)
    return keep_fuel(built["OSPREY"], built["TERN"], cast, now=NOW)


def sent(curl: list[str]):
    """The request of a curl command, put to the service."""
    address = next(part for part in curl if part.startswith(ADDRESS))
    headers = dict(part.split(": ", 1) for flag, part in pairwise(curl) if flag == "-H")
    client = APIClient(headers=headers)
    path = address.removeprefix(ADDRESS)
    if "-d" not in curl:
        return client.get(path)
    return client.post(path, json.loads(curl[curl.index("-d") + 1]), format="json")


def test_the_month_before_is_closed_within_its_limit(fuel):
    """At most 1 percent of what was pumped and 130 gal (40 CFR 280.43(a)); February 2026 has 28 days."""
    span, [rule] = fuel.month.span, fuel.month.outcomes

    assert (span.first.isoformat(), len(span.days)) == ("2026-02-01", 28)
    assert rule.allowance_gal == pytest.approx(0.01 * span.pumped_gal + 130)
    assert not rule.exceeded
    assert fuel.month.closed is not None


def test_the_load_is_refused_and_the_largest_order_told(fuel):
    told = fuel.check.measurements

    assert told["refused"]
    assert f"Order {told['largest_order_gal']:g} gal at most" in told["reasons"][0]


def test_the_cold_explains_the_alarm_and_ends_no_clock(fuel):
    fuel.triage.alarm.refresh_from_db()

    assert fuel.triage.answer["result"] == "consistent with temperature"
    assert fuel.triage.alarm.cleared_at is None


def test_the_printed_requests_work(fuel, cast):
    wanted = fuel_requests(address=ADDRESS, cast=cast, fuel=fuel)

    with time_machine.travel(NOW, tick=False):
        answers = [sent(curl) for curl in wanted]

    assert [answer.status_code for answer in answers] == [200, 200, 201, 200, 200]
    assert all(answer.content.startswith(b"<svg") for answer in answers[:2])
    assert not answers[2].json()["refused"]
    assert answers[3].json()["results"][0]["id"] == fuel.triage.pk

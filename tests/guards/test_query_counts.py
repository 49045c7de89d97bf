"""Slowness is a diff: the number of queries of each list stands in a file, and does not grow with the portfolio."""

import json
import os

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.matching import Signal
from alarms.services.intake import Report, receive_events
from compliance.services import assess
from equipment.models import Facility, Organisation
from equipment.moments import Moment
from equipment.services.records import Deed, record_visit
from tests import world
from tests.guards.routes import Route, routes
from tests.guards.test_sizes import ROOT
from tests.world import NOW, TODAY

FILE = ROOT / "tests" / "guards" / "query_counts.json"
ACCEPT = "accept it: QUERY_COUNTS=write uv run pytest tests/guards/test_query_counts.py"
MANY = 50
LISTS = [
    route
    for route in routes()
    if "GET" in route.verbs and route.parameters <= {"facility_id", "organisation_id"}
]


def site(owner: Organisation, code: str, rows: int) -> Facility:
    """A facility with so many buckets, records, events and alarms."""
    facility = world.facility(owner, code)
    world.component(facility, "tank_system", "S1")
    for number in range(rows):
        world.component(facility, "spill_bucket", f"SB{number}", parent="S1", brought_into_use_on=TODAY)
    deeds = [
        Deed(
            activity="spill-bucket-test",
            performed=Moment(day=TODAY),
            subjects=(f"SB{number}",),
            outcome="pass",
            measurements={"method": "liquid"},
        )
        for number in range(rows)
    ]
    record_visit(facility=facility, submitted_by=owner, entered_by="test", deeds=deeds, now=NOW)
    reports = [
        Report(
            source="console",
            id=str(number),
            device=f"SB{number}",
            condition="sump-liquid",
            signal=Signal.RAISED,
            occurred_at=NOW,
        )
        for number in range(rows)
    ]
    receive_events(facility=facility, source_org=owner, entered_by="test", events=reports, now=NOW)
    return facility


def queries_of(client, path: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        answer = client.get(path)
    assert answer.status_code == 200, answer.content
    return len(queries)


def counts(client, facility: Facility, owner: Organisation) -> dict[str, int]:
    values = {"facility_id": facility.pk, "organisation_id": owner.pk}
    # The first request pays for what every later one finds at hand: the key's last use, cached packs.
    client.get("/api/v1/portfolio")
    return {str(route): queries_of(client, _filled(route, values)) for route in LISTS}


def _filled(route: Route, values: dict[str, object]) -> str:
    extra = "?raised_at=2026-03-04T15:00:00Z" if route.template.endswith("preview") else ""
    return route.filled(values) + extra


@pytest.fixture
def small(owner, owner_client) -> dict[str, int]:
    facility = site(owner, "ONE", rows=1)
    assess.drain(clock=lambda: NOW)
    return counts(owner_client, facility, owner)


def test_lists_cost_the_same_for_one_facility_and_for_fifty(small, owner, owner_client):
    facilities = [site(owner, f"F{number}", rows=1) for number in range(MANY - 1)]
    assess.drain(clock=lambda: NOW)

    assert counts(owner_client, facilities[-1], owner) == small


def test_lists_cost_the_same_for_one_row_and_for_many(small, owner, owner_client):
    facility = site(owner, "MANY", rows=20)
    assess.drain(clock=lambda: NOW)

    assert counts(owner_client, facility, owner) == small


def test_the_counts_are_those_on_file(small):
    if os.environ.get("QUERY_COUNTS") == "write":
        FILE.write_text(json.dumps(small, indent=2, sort_keys=True) + "\n", encoding="utf-8")

    assert small == json.loads(FILE.read_text(encoding="utf-8")), ACCEPT

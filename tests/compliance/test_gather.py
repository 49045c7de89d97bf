"""The site document of what is on file: complete, unknown left out, the same number of queries for any portfolio."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from compliance.gather import site_documents
from compliance.rules.document import read_document
from equipment.moments import Moment, read_moment
from equipment.services.changes import state_change, state_status
from equipment.services.records import Deed, record_visit, withdraw_record
from tests import world
from tests.world import NOW


@pytest.fixture
def site(own):
    world.line(own)
    return own


def document_of(facility) -> dict:
    return site_documents([facility.pk])[facility.pk]


def by_id(rows: list[dict]) -> dict[str, dict]:
    return {row["id"]: row for row in rows}


def test_components_keep_their_tags_and_their_place_in_the_tree(site):
    parts = by_id(document_of(site)["components"])

    assert parts["LLD1"] == {
        "id": "LLD1",
        "kind": "line_leak_detector",
        "parent": "P1",
        "brought_into_use_on": "2010-05-01",
    }


def test_what_nobody_stated_is_left_out_and_a_stated_no_is_not(site):
    world.component(site, "piping_run", "P2", parent="T1", piping_line_leak_detector=False)

    part = by_id(document_of(site)["components"])["P2"]

    assert part == {"id": "P2", "kind": "piping_run", "parent": "T1", "piping_line_leak_detector": False}


def test_fields_that_judging_does_not_know_are_the_writers_own(site):
    world.component(site, "vent", "V1", parent="T1", height_ft=12.0, cap=True)

    assert by_id(document_of(site)["components"])["V1"] == {
        "id": "V1",
        "kind": "vent",
        "parent": "T1",
        "x_height_ft": 12.0,
        "x_cap": True,
    }


def test_a_day_stays_a_day_and_an_instant_an_instant(site, owner):
    deeds = [
        Deed(
            activity="walkthrough", performed=Moment(day=date(2026, 3, 1)), measurements={"areas": ["spill"]}
        ),
        Deed(
            activity="walkthrough",
            performed=read_moment("2026-03-02T09:00:00-05:00"),
            measurements={"areas": ["spill"]},
        ),
    ]
    record_visit(facility=site, submitted_by=owner, entered_by="test", deeds=deeds, now=NOW)

    assert [row["performed_at"] for row in document_of(site)["records"]] == [
        "2026-03-01",
        "2026-03-02T14:00:00+00:00",
    ]


def test_a_withdrawn_record_says_why(site, owner):
    deed = Deed(
        activity="walkthrough", performed=Moment(day=date(2026, 3, 1)), measurements={"areas": ["spill"]}
    )
    [record] = record_visit(
        facility=site, submitted_by=owner, entered_by="test", deeds=[deed], now=NOW
    ).records
    withdraw_record(record=record, reason="wrong site", by="test", now=NOW)

    assert document_of(site)["records"][0]["withdrawn"] == "wrong site"


def test_changes_of_component_and_facility_are_change_rows(site):
    tank = site.components.get(tag="T1")
    state_status(
        facility=site,
        component=tank,
        effective_on=date(2026, 1, 5),
        status="temporarily out of service",
        residue_in=0.5,
        residue_pct=None,
        by="test",
        now=NOW,
    )
    state_change(
        facility=site,
        component=None,
        effective_on=date(2026, 2, 1),
        field="attended",
        value=True,
        by="test",
        now=NOW,
    )

    assert document_of(site)["changes"] == [
        {"of": "T1", "on": "2026-01-05", "status": "temporarily out of service", "residue_in": 0.5},
        {"of": f"facility:{site.pk}", "on": "2026-02-01", "attended": True},
    ]


def test_the_document_can_be_read_back(site):
    assert read_document(document_of(site)).facility.time_zone == "America/New_York"


def test_ten_facilities_take_as_many_queries_as_one(owner):
    facilities = [world.facility(owner, f"F{number}") for number in range(10)]
    for facility in facilities:
        world.line(facility)

    counts = []
    for ids in ([facilities[0].pk], [one.pk for one in facilities]):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            site_documents(ids)
        counts.append(len(queries))

    assert counts[0] == counts[1]

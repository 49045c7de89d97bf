"""States facts for tests in a line: everything that a test does not care about is filled in."""

from datetime import date
from typing import Any

from equipment.faults import Refusal
from equipment.models import (
    Component,
    Delivery,
    Designation,
    Document,
    Facility,
    Organisation,
    Person,
    Plan,
    Record,
    Spill,
    TankChart,
)
from equipment.moments import Moment
from equipment.physics.charts import Row
from equipment.services import charts, happenings, papers, people
from equipment.services.records import Deed, record_visit
from tests.world import NOW, TODAY

TODAY_ONLY = Moment(day=TODAY)


def told(at: Facility, sender: Organisation | None = None) -> dict[str, Any]:
    """Who says it, where and when."""
    return {"facility": at, "submitted_by": sender or at.operator, "by": "R. Ames", "now": NOW}


def person(of: Organisation, name: str = "R. Ames") -> Person:
    return people.add_person(organisation=of, name=name, by="test", now=NOW)


def designation(at: Facility, who: Person, operator_class: str = "A/B", **fields: Any) -> Designation:
    return people.designate(**told(at), person=who.pk, fields={"operator_class": operator_class, **fields})


def document(
    at: Facility, type: str = "registration", *, subjects: Any = (), attachments: Any = (), **fields: Any
) -> Document:
    return papers.file_document(
        **told(at), subjects=subjects, attachments=attachments, fields={"type": type, **fields}
    )


def delivery(
    at: Facility,
    started_at: Moment = TODAY_ONLY,
    *,
    ended_at: Moment | None = None,
    subjects: Any = (),
    sender: Organisation | None = None,
    **fields: Any,
) -> Delivery:
    return happenings.state_delivery(
        **told(at, sender), subjects=subjects, started_at=started_at, ended_at=ended_at, fields=fields
    )


def spill(
    at: Facility,
    discovered_at: Moment = TODAY_ONLY,
    *,
    known_by: Any = (),
    sender: Organisation | None = None,
    **fields: Any,
) -> Spill:
    return happenings.state_spill(
        **told(at, sender), discovered_at=discovered_at, known_by=known_by, fields=fields
    )


def plan(
    at: Facility, type: str = "permanent closure", *, on: date = date(2026, 6, 1), subjects: Any = ()
) -> Plan:
    return happenings.state_plan(
        **told(at), subjects=subjects, planned_at=Moment(day=on), fields={"type": type}
    )


def chart(
    at: Facility, tank: Component, rows: Any = ((0, 0), (48, 5_000), (96, 10_000)), **fields: Any
) -> TankChart:
    """A maker's chart of three rows, unless told otherwise."""
    stated: dict[str, Any] = dict.fromkeys(("shape", "step_in", "effective_on", "note"))
    given = None if rows is None else [Row(float(depth), float(gal)) for depth, gal in rows]
    return charts.state_chart(
        **(told(at) | stated | {"source": "maker's chart"} | fields), component=tank, rows=given
    )


def delivery_check(at: Facility, tag: str = "T1") -> Record:
    """The record of a check before a delivery, as the doorway leaves it."""
    tank = {"component": tag, "product_gal": 4_700, "water_gal": 0, "capacity_gal": 10_000, "limit_pct": 95}
    tank |= {"limit_because": "OV1, automatic shutoff: 95 percent", "charted": True}
    told = {"order_gal": 4_000, "room_gal": 4_800, "largest_order_gal": 4_799, "tanks": [tank]}
    flags = {"fits": True, "refused": False, "joined": False, "spill_buckets_checked": False}
    deed = Deed(activity="pre-delivery-check", performed=TODAY_ONLY, measurements=told | flags)
    visit = record_visit(facility=at, submitted_by=at.operator, entered_by="test", deeds=[deed], now=NOW)
    return visit.records[0]


def faults_of(refusal: Any) -> dict[str, str]:
    """Code by pointer."""
    value: Refusal = refusal.value
    return {fault.pointer: fault.code for fault in value.faults}

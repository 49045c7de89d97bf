"""Builds site documents from what is on file: the one shape that judging, export and what-if share.

Ids in a document: components by their tag; everything else by a word and a number that no tag can spell, such as
`facility:3`, `record:88`, `alarm:7`.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, get_args

from compliance.gather_alarms import Alarms, alarms_known, record_known_by
from compliance.gather_facts import further_facts, person_ref, reason_known, without_loose_ends
from compliance.gather_verdicts import Settings, counted_records
from compliance.protocols import Counted
from compliance.rules import component_rows, document_rows
from equipment import queries
from equipment.models import Component, Facility, FieldChange, Record, StatusChange, TankSystem
from equipment.services.charts import CHARTED
from equipment.services.register import stated_fields

SiteDocument = dict[str, Any]

# Field names that the document has; the register's others are exported as the writer's own, under `x_`.
FACILITY_FIELDS = frozenset(document_rows.Facility.__struct_fields__)
TANK_SYSTEM_FIELDS = frozenset(document_rows.TankSystem.__struct_fields__)
COMPONENT_FIELDS: dict[str, frozenset[str]] = {
    str(row.__struct_config__.tag): frozenset(row.__struct_fields__)
    for row in get_args(component_rows.AnyComponent)
}
_LINKS = {"tag"}


def facility_ref(facility_id: int) -> str:
    """The facility's id in its document."""
    return f"facility:{facility_id}"


def record_ref(record_id: int) -> str:
    """A record's id in its document."""
    return f"record:{record_id}"


@dataclass(frozen=True)
class Gathered:
    """A facility's document, and what its records come to by their own numbers, by record id."""

    document: SiteDocument
    counted: Mapping[int, Counted]


def site_documents(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, SiteDocument]:
    """The documents alone."""
    return {pk: one.document for pk, one in gather(facility_ids, known_at=known_at).items()}


def gather(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, Gathered]:
    """A document for each facility; a fixed number of queries for any number of facilities.

    `known_at`: as it could have been written at that instant. What was recorded later is left out, and what was
    withdrawn or ended later still stands. The register itself (what is there, and its corrections) has no such instant:
    it is taken as it is today. None: everything known.
    """
    facilities = queries.facilities_by_id(facility_ids)
    components = queries.components_of(facility_ids)
    statuses = queries.status_changes_of(facility_ids, known_at=known_at)
    changes = queries.field_changes_of(facility_ids, known_at=known_at)
    records = queries.records_of(facility_ids, known_at=known_at)
    alarms = alarms_known(list(facilities), known_at=known_at)
    further = further_facts(facility_ids, known_at=known_at)
    charts = queries.chart_rows_of(
        [one.pk for rows in components.values() for one in rows if one.kind in CHARTED], known_at=known_at
    )
    found = {}
    for pk, facility in facilities.items():
        settings = Settings(facility, components.get(pk, []), changes.get(pk, []), charts)
        counted = counted_records(records.get(pk, []), settings)
        document = _document(
            facility,
            components=components.get(pk, []),
            statuses=statuses.get(pk, []),
            changes=changes.get(pk, []),
            records=records.get(pk, []),
            counted=counted,
            alarms=alarms[pk],
            further=further[pk],
            known_at=known_at,
        )
        found[pk] = Gathered(document, counted)
    return found


def _document(
    facility: Facility,
    *,
    components: list[Component],
    statuses: list[StatusChange],
    changes: list[FieldChange],
    records: list[Record],
    counted: Mapping[int, Counted],
    alarms: Alarms,
    further: dict[str, list[dict[str, Any]]],
    known_at: datetime | None,
) -> SiteDocument:
    tags = {component.pk: component.tag for component in components}
    systems = [one for one in components if isinstance(one, TankSystem)]
    parts = [one for one in components if not isinstance(one, TankSystem)]
    own = facility_ref(facility.pk)
    document = {
        "version": 1,
        "facility": {"id": own} | _known(facility, FACILITY_FIELDS),
        "tank_systems": [_system(one) for one in systems],
        "components": [_component(one, tags) for one in parts],
        "changes": [
            *(_status(one, own) for one in statuses),
            *(_change(one, own) for one in changes),
            *alarms.changes,
        ],
        "records": [_record(one, counted[one.pk], facility, known_at) for one in records],
        "alarms": alarms.rows,
    }
    return without_loose_ends(document | further)


def _known(row: Facility | Component, known: Collection[str]) -> dict[str, Any]:
    """Stated fields that say something; one that the document has no name for goes under `x_`."""
    values = {name: getattr(row, name) for name in stated_fields(type(row)) if name not in _LINKS}
    return {
        name if name in known else f"x_{name}": _json(value)
        for name, value in values.items()
        if value is not None
    }


def _system(system: TankSystem) -> dict[str, Any]:
    return {"id": system.tag} | _known(system, TANK_SYSTEM_FIELDS)


def _component(component: Component, tags: Mapping[int, str]) -> dict[str, Any]:
    links = {
        "id": component.tag,
        "kind": component.kind,
        "parent": tags.get(component.parent_id or 0),
        "replaces": tags.get(component.replaces_id or 0),
    }
    return _stated(links) | _known(component, COMPONENT_FIELDS[component.kind])


def _status(change: StatusChange, facility: str) -> dict[str, Any]:
    return _stated(
        {
            "of": change.component.tag if change.component else facility,
            "on": change.effective_on.isoformat(),
            "status": change.status,
            "residue_in": change.residue_in,
            "residue_pct": change.residue_pct,
        }
    )


def _change(change: FieldChange, facility: str) -> dict[str, Any]:
    known = _fields_of(change.component)
    name = change.field if change.field in known else f"x_{change.field}"
    of = change.component.tag if change.component else facility
    # Null is kept here: a field that became unknown says so.
    return {"of": of, "on": change.effective_on.isoformat(), name: change.value}


def _fields_of(component: Component | None) -> frozenset[str]:
    if component is None:
        return FACILITY_FIELDS
    return COMPONENT_FIELDS.get(component.kind, TANK_SYSTEM_FIELDS)


def _record(
    record: Record, counted: Counted, facility: Facility, known_at: datetime | None
) -> dict[str, Any]:
    own = facility_ref(facility.pk)
    subjects = [one.component.tag for one in getattr(record, "named_subjects", [])]
    performer = _stated(
        {
            "organisation": record.performer or record.submitted_by.name,
            "person": record.technician,
            "certificate": record.certificate,
        }
    )
    return _stated(
        {
            "id": record_ref(record.pk),
            "activity": record.activity,
            "subject": subjects or (person_ref(record.person_id) if record.person_id else own),
            "performed_at": _json(record.performed_at or record.performed_on),
            "recorded_at": _json(record.recorded_at),
            "outcome": counted.outcome,
            "reported_outcome": counted.reported if counted.differs else None,
            "missing_measurements": list(counted.missing) or None,
            "x_disagreement": True if counted.verdict and counted.verdict.disagreement else None,
            "measurements": record.measurements,
            "performed_by": performer,
            "regarding": record.regarding,
            "known_by": record_known_by(record, facility, {counted.outcome, counted.reported}),
            "supersedes": record_ref(record.supersedes_id) if record.supersedes_id else None,
            "withdrawn": reason_known(record, known_at),
            "external_id": record.external_id,
        }
    )


def _stated(values: dict[str, Any]) -> dict[str, Any]:
    """Without what nobody said."""
    return {name: value for name, value in values.items() if value is not None}


def _json(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value

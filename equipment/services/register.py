"""States and corrects what is there: facilities, components, statuses and other dated changes."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models, transaction

from equipment.faults import Fault, refuse
from equipment.models import (
    MODEL_OF_KIND,
    Component,
    Facility,
    FacilityAccess,
    FieldChange,
    Organisation,
    StatusChange,
)
from equipment.services.facts import lock_facility, touch
from equipment.vocabulary import AccessRole, Kind

# What an automatic tag begins with, as people write on a tank pad drawing: T1, SB2, LLD1.
TAG_PREFIX: dict[str, str] = {
    Kind.TANK_SYSTEM: "S",
    Kind.TANK: "T",
    Kind.COMPARTMENT: "C",
    Kind.PIPING_RUN: "P",
    Kind.SPILL_BUCKET: "SB",
    Kind.OVERFILL_DEVICE: "OV",
    Kind.CONTAINMENT_SUMP: "SU",
    Kind.LINE_LEAK_DETECTOR: "LLD",
    Kind.SENSOR: "SN",
    Kind.MONITORING_CONSOLE: "MC",
    Kind.CATHODIC_PROTECTION: "CP",
    Kind.MONITORING_WELL: "MW",
    Kind.VENT: "V",
    Kind.FILL_PORT: "FP",
    Kind.DISPENSER: "D",
    Kind.SHEAR_VALVE: "SV",
    Kind.SHORE_VALVE: "SHV",
    Kind.EMERGENCY_SHUTOFF: "ES",
    Kind.HOSE: "H",
    Kind.VAC_PRESSURE_DEVICE: "VP",
    Kind.HANDHELD_RD_DEVICE: "HH",
}
_KEPT_BY_US = {
    "id",
    "component_ptr",
    "facility",
    "kind",
    "version",
    "operator",
    "facts_version",
    "created_at",
}


def stated_fields(model: type[models.Model]) -> "dict[str, models.Field[Any, Any]]":
    """Fields of a facility or component that people state, by name; links and our own bookkeeping left out."""
    return {
        field.name: field
        for field in model._meta.get_fields()
        if isinstance(field, models.Field) and not field.is_relation and field.name not in _KEPT_BY_US
    }


@transaction.atomic
def open_facility(*, operator: Organisation, by: str, now: datetime, fields: Mapping[str, Any]) -> Facility:
    """A new facility of this operator, who may do everything there from now on."""
    facility = Facility(operator=operator, created_at=now)
    _fill(facility, fields)
    facility.save()
    FacilityAccess.objects.create(
        organisation=operator, facility=facility, role=AccessRole.OPERATOR, starts_at=now, granted_by=by
    )
    return facility


@transaction.atomic
def correct_facility(*, facility: Facility, fields: Mapping[str, Any]) -> Facility:
    """Put right what was stated wrongly. What began to hold on some day is a change, not a correction."""
    lock_facility(facility.pk)
    facility.refresh_from_db()
    _fill(facility, fields)
    facility.version += 1
    facility.save()
    touch(facility.pk)
    return facility


@transaction.atomic
def add_component(
    *,
    facility: Facility,
    kind: str,
    fields: Mapping[str, Any],
    tag: str | None = None,
    parent: str | None = None,
    replaces: str | None = None,
) -> Component:
    """A new component. Without a tag it gets the next free one of its kind; parent and replaces are tags."""
    lock_facility(facility.pk)
    component = MODEL_OF_KIND[kind](facility=facility, kind=kind)
    component.tag = tag or next_tag(facility, kind)
    component.parent = _by_tag(facility, parent, "/parent")
    component.replaces = _by_tag(facility, replaces, "/replaces")
    _fill(component, fields)
    component.save()
    touch(facility.pk)
    return component


@transaction.atomic
def correct_component(*, component: Component, fields: Mapping[str, Any]) -> Component:
    """Put right what was stated wrongly about a component."""
    lock_facility(component.facility_id)
    component.refresh_from_db()
    _fill(component, fields)
    component.version += 1
    component.save()
    touch(component.facility_id)
    return component


def next_tag(facility: Facility, kind: str) -> str:
    """The first free tag of the kind: T1, T2, ..."""
    prefix = TAG_PREFIX[kind]
    taken = set(
        Component.objects.filter(facility=facility, tag__startswith=prefix).values_list("tag", flat=True)
    )
    number = 1
    while f"{prefix}{number}" in taken:
        number += 1
    return f"{prefix}{number}"


@transaction.atomic
def state_status(
    *,
    facility: Facility,
    component: Component | None,
    effective_on: date,
    status: str,
    residue_in: float | None,
    residue_pct: float | None,
    by: str,
    now: datetime,
) -> StatusChange:
    """From this local day on, the component (None: the whole facility) has this status. Once a day."""
    lock_facility(facility.pk)
    _not_in_future(facility, effective_on, now=now)
    change = StatusChange(
        facility=facility,
        component=component,
        effective_on=effective_on,
        status=status,
        residue_in=residue_in,
        residue_pct=residue_pct,
        recorded_at=now,
        recorded_by=by,
    )
    clean(change)
    change.save()
    touch(facility.pk)
    return change


@transaction.atomic
def state_change(
    *,
    facility: Facility,
    component: Component | None,
    effective_on: date,
    field: str,
    value: Any,
    by: str,
    now: datetime,
) -> FieldChange:
    """From this local day on, a field of the component (None: of the facility) has this value; null says unknown."""
    lock_facility(facility.pk)
    _not_in_future(facility, effective_on, now=now)
    model = MODEL_OF_KIND[component.kind] if component else Facility
    known = stated_fields(model)
    if field not in known:
        refuse([Fault("/field", f"{field!r} is no field here; known: {', '.join(sorted(known))}", "unknown")])
    if value is not None:
        value = _plain(known[field], value)
    change = FieldChange(
        facility=facility,
        component=component,
        effective_on=effective_on,
        field=field,
        value=value,
        recorded_at=now,
        recorded_by=by,
    )
    clean(change)
    change.save()
    touch(facility.pk)
    return change


def clean(row: models.Model, exclude: set[str] | None = None) -> None:
    """Django's own checks of a row, as faults with pointers."""
    try:
        row.full_clean(exclude=exclude)
    except ValidationError as error:
        refuse(faults_of(error))


def faults_of(error: ValidationError) -> list[Fault]:
    """A Django validation error as faults; what concerns the row as a whole points at the document's root."""
    if not hasattr(error, "error_dict"):
        return [Fault("", "; ".join(error.messages), error.code or "invalid")]
    return [
        Fault("" if name == "__all__" else f"/{name}", "; ".join(inner.messages), inner.code or "invalid")
        for name, inners in error.error_dict.items()
        for inner in inners
    ]


def _fill(row: Facility | Component, fields: Mapping[str, Any]) -> None:
    known = stated_fields(type(row))
    refuse(
        Fault(f"/{name}", f"no such field; known: {', '.join(sorted(known))}", "unknown")
        for name in fields
        if name not in known
    )
    for name, value in fields.items():
        setattr(row, name, value)
    clean(row)


def _plain(field: "models.Field[Any, Any]", value: Any) -> Any:
    """The value as JSON stores it, after the field's own checks."""
    try:
        checked = field.clean(value, None)
    except ValidationError as error:
        refuse([Fault("/value", "; ".join(error.messages), "invalid")])
    return checked.isoformat() if isinstance(checked, date) else checked


def _by_tag(facility: Facility, tag: str | None, pointer: str) -> Component | None:
    if tag is None:
        return None
    found = Component.objects.filter(facility=facility, tag=tag).first()
    if found is None:
        refuse([Fault(pointer, f"no component {tag!r} at this facility", "unknown")])
    return found


def _not_in_future(facility: Facility, day: date, *, now: datetime) -> None:
    if day > now.astimezone(ZoneInfo(facility.time_zone)).date():
        refuse([Fault("/effective_on", "lies in the future; state it when it has happened", "future")])

"""States and corrects what is there: facilities and components. What began on some day is in `changes`."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import models, transaction

from equipment.faults import Fault, Stale, no_component, refuse
from equipment.models import MODEL_OF_KIND, Component, Facility, FacilityAccess, Organisation
from equipment.services.checking import clean
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
    "facts_changed_at",
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
    """Put right what was stated wrongly. What began to hold on some day is a change, not a correction.

    Raises `Stale` when the row moved on since the caller read it.
    """
    lock_facility(facility.pk)
    _reread(facility)
    _fill(facility, fields)
    facility.version += 1
    facility.save()
    touch(facility.pk)
    facility.refresh_from_db(fields=["facts_version", "facts_changed_at"])
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
    component.parent = component_named(facility, parent, "/parent")
    component.replaces = component_named(facility, replaces, "/replaces")
    _fill(component, fields)
    component.save()
    touch(facility.pk)
    return component


@transaction.atomic
def correct_component(
    *, component: Component, fields: Mapping[str, Any], links: Mapping[str, str | None] | None = None
) -> Component:
    """Put right what was stated wrongly about a component. `links`: tags (or None) for `parent` and `replaces`.

    Raises `Stale` when the row moved on since the caller read it, `Invalid` when a link would close a loop.
    """
    facility = lock_facility(component.facility_id)
    _reread(component)
    for name, tag in (links or {}).items():
        target = component_named(facility, tag, f"/{name}")
        _not_a_loop(component, target, name)
        setattr(component, name, target)
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


def component_named(facility: Facility, tag: str | None, pointer: str) -> Component | None:
    """The component that a body names at the pointer, None for none; refuses a tag that is not on file here."""
    if tag is None:
        return None
    found = Component.objects.filter(facility=facility, tag=tag).first()
    if found is None:
        refuse([no_component(pointer, tag)])
    return found


def _reread(row: Facility | Component) -> None:
    """The row as it stands under the lock; an If-Match that was right a moment ago may be wrong now."""
    seen = row.version
    row.refresh_from_db()
    if row.version != seen:
        raise Stale("Read it again, look at what changed, and send your change with the new ETag.")


def _not_a_loop(component: Component, target: Component | None, link: str) -> None:
    """Following `parent` or `replaces` from any component comes to an end."""
    links = dict(Component.objects.filter(facility=component.facility_id).values_list("pk", f"{link}_id"))
    step = target.pk if target else None
    while step is not None:
        if step == component.pk:
            refuse([Fault(f"/{link}", f"leads back to {component.tag} itself", "loop")])
        step = links[step]

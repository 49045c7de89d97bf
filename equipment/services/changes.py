"""States what began to hold on some day, and takes back what was stated by mistake. Nothing is ever edited."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models, transaction

from equipment.faults import Conflict, Fault, refuse
from equipment.models import MODEL_OF_KIND, Component, Facility, FieldChange, StatusChange
from equipment.services.checking import clean
from equipment.services.facts import lock_facility, touch
from equipment.services.register import stated_fields

# Corrected, never dated: what a facility or component is called, since records and programs go by it; the zone in
# which its days are counted; and the days that are themselves facts about the whole of its life.
NAMES = frozenset({"tag", "code", "time_zone", "installed_on", "brought_into_use_on", "removed_on"})


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
    column = changeable_field(component, field)
    change = FieldChange(
        facility=facility,
        component=component,
        effective_on=effective_on,
        field=field,
        value=_plain(column, value),
        recorded_at=now,
        recorded_by=by,
    )
    clean(change, exclude={"value"})
    change.save()
    touch(facility.pk)
    return change


def changeable_field(component: Component | None, field: str) -> "models.Field[Any, Any]":
    """The column that a dated change names; refuses a name that the component (None: the facility) does not have."""
    model = MODEL_OF_KIND[component.kind] if component else Facility
    known = {name: column for name, column in stated_fields(model).items() if name not in NAMES}
    if field not in known:
        refuse([Fault("/field", f"{field!r} is no field here; known: {', '.join(sorted(known))}", "unknown")])
    return known[field]


@transaction.atomic
def withdraw_change(
    *, change: StatusChange | FieldChange, reason: str, by: str, now: datetime
) -> StatusChange | FieldChange:
    """Take back a change that should never have been stated; it stays readable with the reason, and no longer counts.

    The same reason again changes nothing; another reason is a `Conflict`.
    """
    lock_facility(change.facility_id)
    taken = (
        type(change)
        ._default_manager.filter(pk=change.pk, withdrawn_at=None)
        .update(withdrawn_at=now, withdrawn_reason=reason, withdrawn_by=by)
    )
    change.refresh_from_db()
    if not taken and change.withdrawn_reason != reason:
        raise Conflict(f"The change was withdrawn already, because: {change.withdrawn_reason}")
    if taken:
        touch(change.facility_id)
    return change


def _plain(column: "models.Field[Any, Any]", value: Any) -> Any:
    """The value as JSON stores it, after the column's own checks."""
    if value is None:
        if not column.null:
            refuse([Fault("/value", f"{column.name} is always known; null says unknown", "null")])
        return None
    try:
        checked = column.clean(value, None)
    except ValidationError as error:
        refuse([Fault("/value", "; ".join(error.messages), "invalid")])
    return checked.isoformat() if isinstance(checked, date) else checked


def _not_in_future(facility: Facility, day: date, *, now: datetime) -> None:
    if day > now.astimezone(ZoneInfo(facility.time_zone)).date():
        refuse([Fault("/effective_on", "lies in the future; state it when it has happened", "future")])

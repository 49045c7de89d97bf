"""Applies what a roster says differently, on request, through the register's own services."""

from datetime import date, datetime
from typing import Any

from equipment.faults import Conflict, Refusal
from equipment.models import Component
from equipment.roster.elements import PARTS, STATUS, UNKNOWN
from equipment.roster.report import Remark, shown
from equipment.roster.translating import TankRow
from equipment.services.changes import state_change, state_status
from equipment.services.register import add_component, correct_component, correct_facility
from equipment.services.roster_rows import Difference

# Days that do not change with time: a different one was stated wrongly.
_FIXED_DAYS = frozenset({"installed_on", "brought_into_use_on", "removed_on", "replaced_on", "lined_on"})


def apply(
    difference: Difference, row: TankRow, *, by: str, now: datetime, as_of: date
) -> tuple[Remark, bool]:
    """The remark that says what was done, and whether it was.

    What was unknown, a day, or a name is corrected. Anything else began to hold at some time: it becomes a dated change
    from the day of the roster, and earlier days keep what was on file.
    """
    try:
        _not_older(difference, row, as_of=as_of)
        done = _apply(difference, row, by=by, now=now, as_of=as_of)
    except Refusal as refusal:
        why = "; ".join(fault.detail for fault in refusal.faults) or refusal.detail
        remark = difference.remark()
        return Remark(remark.column, remark.value, f"{remark.reason}; not updated: {why}"), False
    was, theirs = shown(difference.ours), shown(difference.theirs)
    return Remark(
        difference.column, theirs, f"updated: {difference.column}, was {was}, now {theirs} ({done})"
    ), True


def _apply(difference: Difference, row: TankRow, *, by: str, now: datetime, as_of: date) -> str:
    facility, component = difference.site.facility, difference.component
    if difference.field == "":
        return _add_part(difference, row)
    if difference.field == STATUS:
        stated = row.statuses[difference.part]
        since = stated.since or as_of
        state_status(
            facility=facility,
            component=component,
            effective_on=since,
            status=stated.word,
            residue_in=None,
            residue_pct=None,
            by=by,
            now=now,
        )
        return f"from {since}"
    if not _is_correction(difference):
        state_change(
            facility=facility,
            component=component,
            effective_on=as_of,
            field=difference.field,
            value=difference.theirs,
            by=by,
            now=now,
        )
        return f"from {as_of}"
    fields: dict[str, Any] = {difference.field: difference.theirs}
    if component is None:
        correct_facility(facility=facility, fields=fields)
    else:
        correct_component(component=component, fields=fields)
    return "corrected"


def _not_older(difference: Difference, row: TankRow, *, as_of: date) -> None:
    """A roster does not speak against what the register knows of a later day."""
    site, tag = difference.site, difference.component.tag if difference.component else None
    since = as_of
    if difference.field == STATUS:
        since, known = row.statuses[difference.part].since or as_of, site.statuses.get(tag)
    else:
        known = site.dated.get((tag, difference.field))
    if known is not None and known[1] > since:
        raise Conflict(f"the register's is of a later day, {known[1]}")


def _is_correction(difference: Difference) -> bool:
    """A field that has dated changes gets another one: a corrected column would not show through them."""
    tag = difference.component.tag if difference.component else None
    if (tag, difference.field) in difference.site.dated:
        return False
    unknown = difference.ours in (None, UNKNOWN, [UNKNOWN])
    return unknown or difference.field in _FIXED_DAYS or difference.field in ("name", "label", "note")


def _add_part(difference: Difference, row: TankRow) -> str:
    part = PARTS[difference.part]
    holder = row.holder(difference.part)
    fields = {name: value for name, value in row.fields[difference.part].items() if value is not None}
    component: Component = add_component(
        facility=difference.site.facility,
        kind=part.kind,
        fields=fields,
        tag=row.tag(difference.part),
        parent=row.tag(holder) if holder is not None else None,
    )
    return f"added as {component.tag}"

"""Statuses and other dated changes: as one list, newest first, page by page; and what of them holds today.

They lie in two tables; a page reads at most `limit` rows of each, from where the last page ended. A change is never
stated for a day to come (services/changes.py), so that what stands and is newest is what holds.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from django.db.models import Q

from equipment.models import FieldChange, StatusChange

Change = StatusChange | FieldChange
ChangeType = Literal["status", "field"]
TABLES: dict[ChangeType, type[Change]] = {"status": StatusChange, "field": FieldChange}


@dataclass(frozen=True, order=True)
class Place:
    """Where a change stands in the list: by its day, then by its type, then in the order of recording."""

    effective_on: date
    type: str
    pk: int


@dataclass
class InForce:
    """What holds today: the status, and the fields that a change says otherwise than the register's row."""

    status: StatusChange | None = None
    changed: dict[str, FieldChange] = field(default_factory=dict)


def type_of(change: Change) -> ChangeType:
    """Which of the two tables holds it."""
    return "status" if isinstance(change, StatusChange) else "field"


def place_of(change: Change) -> Place:
    """Its place in the list."""
    return Place(change.effective_on, type_of(change), change.pk)


def newest_changes(
    facility_id: int, *, tag: str | None, before: Place | None, limit: int
) -> tuple[list[Change], bool]:
    """At most `limit` changes below the place `before`, and whether more follow. `tag`: of one component only."""
    found: list[Change] = []
    for name, model in TABLES.items():
        rows = model._default_manager.filter(_below(name, before), facility=facility_id)
        if tag is not None:
            rows = rows.filter(component__tag=tag)
        found += rows.select_related("component").order_by("-effective_on", "-pk")[: limit + 1]
    found.sort(key=place_of, reverse=True)
    return found[:limit], len(found) > limit


def _below(name: ChangeType, before: Place | None) -> Q:
    if before is None:
        return Q()
    same_day = Q(effective_on=before.effective_on)
    if name == before.type:
        same_day &= Q(pk__lt=before.pk)
    elif name > before.type:
        same_day = Q(pk=None)
    return Q(effective_on__lt=before.effective_on) | same_day


def in_force_at_facilities(facility_ids: Collection[int]) -> dict[int, InForce]:
    """What holds today about each facility as a whole, by its id; two queries."""
    about = Q(facility__in=facility_ids, component=None)
    return {facility_id: told for (facility_id, _), told in _in_force(about).items()}


def in_force_at_components(component_ids: Collection[int]) -> dict[int, InForce]:
    """What holds today about each component, by its id; two queries."""
    about = Q(component__in=component_ids)
    return {component_id: told for (_, component_id), told in _in_force(about).items() if component_id}


def _in_force(about: Q) -> dict[tuple[int, int | None], InForce]:
    told: dict[tuple[int, int | None], InForce] = defaultdict(InForce)
    for status in StatusChange.objects.filter(about, withdrawn_at=None).order_by("effective_on"):
        told[status.facility_id, status.component_id].status = status
    for change in FieldChange.objects.filter(about, withdrawn_at=None).order_by("effective_on"):
        told[change.facility_id, change.component_id].changed[change.field] = change
    return told

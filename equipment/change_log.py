"""Statuses and other dated changes of one facility as one list, newest first, read page by page.

They lie in two tables; a page reads at most `limit` rows of each, from where the last page ended.
"""

from dataclasses import dataclass
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

"""Reads facts for others, for many facilities at once: the number of queries does not depend on how many."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import TypeVar

from django.db.models import Prefetch

from equipment.models import KINDS, Component, Facility, FieldChange, Record, RecordSubject, StatusChange

Row = TypeVar("Row", Component, FieldChange, Record, StatusChange)


def facilities_by_id(facility_ids: Collection[int]) -> dict[int, Facility]:
    """The facilities themselves."""
    return Facility.objects.in_bulk(facility_ids)


def components_of(facility_ids: Collection[int]) -> dict[int, list[Component]]:
    """Every component as a row of its own kind's table, by facility, in order of registration. One query a kind."""
    rows = [
        row
        for model in KINDS
        for row in model._default_manager.filter(facility__in=facility_ids).order_by("pk")
    ]
    return _by_facility(sorted(rows, key=lambda row: row.pk))


def status_changes_of(facility_ids: Collection[int]) -> dict[int, list[StatusChange]]:
    """Statuses that stand, oldest first."""
    rows = StatusChange.objects.filter(facility__in=facility_ids, withdrawn_at=None)
    return _by_facility(rows.select_related("component").order_by("effective_on", "pk"))


def field_changes_of(facility_ids: Collection[int]) -> dict[int, list[FieldChange]]:
    """Changes of other fields that stand, oldest first."""
    rows = FieldChange.objects.filter(facility__in=facility_ids, withdrawn_at=None)
    return _by_facility(rows.select_related("component").order_by("effective_on", "pk"))


def records_of(facility_ids: Collection[int]) -> dict[int, list[Record]]:
    """Every record, withdrawn and superseded ones too (they say so), oldest first, subjects at hand."""
    subjects = Prefetch(
        "record_subjects",
        RecordSubject.objects.select_related("component").order_by("pk"),
        to_attr="named_subjects",
    )
    rows = Record.objects.filter(facility__in=facility_ids)
    return _by_facility(
        rows.select_related("submitted_by").prefetch_related(subjects).order_by("performed_on", "pk")
    )


def _by_facility(rows: Iterable[Row]) -> dict[int, list[Row]]:
    sorted_out: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        sorted_out[row.facility_id].append(row)
    return sorted_out

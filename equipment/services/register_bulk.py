"""States many facilities and components at once, with the meaning of `services.register` and far fewer queries.

The caller holds a transaction, has checked each row with `check`, and calls `touch_all` once at the end.
"""

from collections.abc import Collection, Sequence
from datetime import datetime
from functools import cache
from itertools import groupby
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.db import connection, models
from django.db.models import F
from django.db.models.functions import Now
from django.db.models.sql import InsertQuery

from equipment.faults import Fault
from equipment.models import Component, Facility, FacilityAccess, StatusChange
from equipment.services.checking import faults_of
from equipment.vocabulary import AccessRole


def lock_facilities(facility_ids: Collection[int]) -> list[Facility]:
    """These facilities, locked to the end of the transaction, always in the same order. See `facts.lock_facility`."""
    rows = Facility.objects.filter(pk__in=facility_ids).order_by("pk")
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(no_key=True)  # rows that only refer to a facility need not wait
    return list(rows)


def check(row: Facility | Component) -> list[Fault]:
    """What is wrong with the row's own columns. No query; what concerns several rows is held by the constraints."""
    exclude = {field.name for field in row._meta.concrete_fields if field.is_relation}
    if isinstance(row, Facility) and row.time_zone in _zones():
        # Its own check reads the machine's whole zone folder each time: 20 ms a facility.
        exclude.add("time_zone")
    try:
        row.clean_fields(exclude=exclude)
    except ValidationError as error:
        return faults_of(error)
    return []


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def insert_facilities(*, facilities: Sequence[Facility], by: str, now: datetime) -> None:
    """Put new facilities on file; each operator may do everything at its own from now on."""
    Facility.objects.bulk_create(facilities)
    FacilityAccess.objects.bulk_create(
        FacilityAccess(
            organisation_id=facility.operator_id,
            facility=facility,
            role=AccessRole.OPERATOR,
            starts_at=now,
            granted_by=by,
        )
        for facility in facilities
    )


def insert_components(*, components: Sequence[Component]) -> None:
    """Put new components of any kinds on file; a parent may be among them, in any place."""
    waiting = list(components)
    while waiting:
        ready = [one for one in waiting if one.parent is None or one.parent.pk is not None]
        if not ready:
            raise ValueError(f"{waiting[0].tag} hangs on a component that is neither on file nor among these")
        _insert_level(ready)
        waiting = [one for one in waiting if one.pk is None]


def insert_statuses(*, changes: Sequence[StatusChange]) -> None:
    """Put new statuses on file."""
    StatusChange.objects.bulk_create(changes)


def touch_all(facility_ids: Collection[int]) -> None:
    """As `facts.touch`, once for each of these facilities."""
    Facility.objects.filter(pk__in=facility_ids).update(
        facts_version=F("facts_version") + 1, facts_changed_at=Now()
    )


def _insert_level(components: Sequence[Component]) -> None:
    """Components whose parents are on file: the shared rows first, then those of each kind.

    Django's bulk_create refuses tables that inherit, since it cannot know the keys in time. Here they are known: the
    shared rows come first and give them.
    """
    shared_columns = [field.attname for field in Component._meta.concrete_fields]
    for one in components:
        # A parent or facility that was saved after it was named here.
        one.facility_id = one.facility.pk
        one.parent_id = one.parent.pk if one.parent is not None else None
    shared = Component.objects.bulk_create(
        Component(**{name: getattr(one, name) for name in shared_columns}) for one in components
    )
    for one, row in zip(components, shared, strict=True):
        one.pk = one.id = row.pk
        one._state.adding = False
        one._state.db = row._state.db
    for model, rows in groupby(sorted(components, key=lambda one: one.kind), key=type):
        _insert_own_columns(model, list(rows))


def _insert_own_columns(model: type[Component], rows: Sequence[Component]) -> None:
    columns: list[models.Field[object, object]] = list(model._meta.local_concrete_fields)
    size = connection.ops.bulk_batch_size(columns, rows)
    for start in range(0, len(rows), size):
        query = InsertQuery(model)
        query.insert_values(columns, list(rows[start : start + size]))
        query.get_compiler(connection=connection).execute_sql()

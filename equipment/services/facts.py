"""What every change to a facility's facts does: take the facility's lock, raise its version."""

from django.db import connection
from django.db.models import F
from django.db.models.functions import Now

from equipment.models import Facility


def lock_facility(facility_id: int) -> Facility:
    """The facility, locked to the end of the transaction. Lock order everywhere: facility, alarm, notice.

    SQLite has one writer at a time (transactions start IMMEDIATE), so there the lock is already held.
    """
    rows = Facility.objects.all()
    if connection.features.has_select_for_update:
        rows = rows.select_for_update(no_key=True)  # rows that only refer to the facility need not wait
    return rows.get(pk=facility_id)


def touch(facility_id: int) -> None:
    """Say that a fact about the facility was added: every judgement of an older version is now out of date."""
    Facility.objects.filter(pk=facility_id).update(
        facts_version=F("facts_version") + 1, facts_changed_at=Now()
    )

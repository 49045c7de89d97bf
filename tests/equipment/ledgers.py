"""Ledgers on file, for tests of any app."""

from datetime import date, timedelta
from typing import Any

from equipment.models import Component, Facility, InventoryDay
from equipment.physics.ledger_entries import Entry, Reading
from equipment.services.inventory import StatedDay, state_days
from tests import world


def entry(on: date, **fields: Any) -> Entry:
    """A day on which 100 gal were pumped and 900 gal were left, read by stick."""
    stated: dict[str, Any] = {"measured_by": "stick", "pumped_gal": 100.0, "readings": (Reading(gal=900.0),)}
    return Entry(on=on, **(stated | fields))


def inventory_day(at: Facility, on: date = world.TODAY - timedelta(days=1), **fields: Any) -> InventoryDay:
    """One day of the ledger of T1."""
    [row] = state_days(
        facility=at,
        component=Component.objects.get(facility=at, tag="T1"),
        submitted_by=at.operator,
        by="test",
        days=[StatedDay(entry=entry(on, **fields))],
        now=world.NOW,
    )
    return row

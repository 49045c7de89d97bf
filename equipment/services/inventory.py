"""States days of a ledger, many at once or none, and takes one out that should never have been stated."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from django.db import transaction

from equipment.faults import Conflict, Fault, refuse
from equipment.inventory_queries import entries_of, standing_days, tanks_of_ledger, vessels_by_day
from equipment.models import (
    Compartment,
    Component,
    Facility,
    InventoryDay,
    InventoryDelivery,
    Organisation,
    Tank,
)
from equipment.physics.ledger_entries import Delivery, Entry, Link, chain, opening_faults
from equipment.physics.ledger_month import doubts
from equipment.physics.ledger_readings import measured
from equipment.services.checking import clean
from equipment.services.facts import lock_facility
from equipment.services.stating import refuse_others, withdraw_fact
from equipment.vocabulary import Kind

# Far enough back that the last water reading and the month's first day are in it.
LOOK_BACK = timedelta(days=62)
PLAIN = ("idle", "measured_by", "opening_gal", "basis", "pumped_gal", "returned_gal", "refill_gal")


@dataclass(frozen=True, kw_only=True)
class StatedDay:
    """A day as it was sent. `supersedes` is the row that it corrects, with the reason."""

    entry: Entry
    note: str | None = None
    supersedes: int | None = None
    reason: str | None = None


@transaction.atomic
def state_days(
    *,
    facility: Facility,
    component: Component,
    submitted_by: Organisation,
    by: str,
    days: Sequence[StatedDay],
    now: datetime,
) -> list[InventoryDay]:
    """Put every day on file, or none. `Invalid` or `Conflict` with a pointer into `/days` for each fault.

    A ledger moves no judgement by itself; the record that closes a month does.
    """
    facility = lock_facility(facility.pk)
    refuse(_date_faults(facility, days, now=now))
    _refuse_ledger(component, min(day.entry.on for day in days))
    first = min(day.entry.on for day in days).replace(day=1) - LOOK_BACK
    rows = standing_days(component, first, max(day.entry.on for day in days) + timedelta(days=31))
    standing = {row.on: row for row in rows}
    _refuse_second_closings(days, standing, submitted_by, facility)
    entries = _measured(component, days)
    refuse(_chain_faults(entries, rows))
    return [
        _store(
            day,
            entry,
            component=component,
            supersedes=standing.get(entry.on),
            submitted_by=submitted_by,
            by=by,
            now=now,
        )
        for day, entry in zip(days, entries, strict=True)
    ]


def doubts_about(component: Component, days: Sequence[StatedDay]) -> list[str]:
    """What the ledger says about these days, once they are on file, that nobody refused and somebody should check."""
    first, last = min(day.entry.on for day in days), max(day.entry.on for day in days)
    return doubts(chain(entries_of(standing_days(component, first - LOOK_BACK, last))), first, last)


@transaction.atomic
def withdraw_day(
    *, row: InventoryDay, organisation: Organisation, reason: str, by: str, now: datetime
) -> InventoryDay:
    """Take a day out; what it corrected stands again. A day that was corrected goes after its correction."""
    lock_facility(row.facility_id)
    later = row.corrections.filter(withdrawn_at=None).first()
    if later is not None:
        raise Conflict(f"Entry {later.pk} corrects it; withdraw that one first.", entry=later.pk)
    return withdraw_fact(fact=row, organisation=organisation, reason=reason, by=by, now=now)


def _date_faults(facility: Facility, days: Sequence[StatedDay], *, now: datetime) -> Iterator[Fault]:
    today = now.astimezone(ZoneInfo(facility.time_zone)).date()
    counts = Counter(day.entry.on for day in days)
    for number, day in enumerate(days):
        if day.entry.on > today:
            yield Fault(f"/days/{number}/on", f"lies in the future; it is {today} at the site", "future")
        if counts[day.entry.on] > 1:
            detail = f"{day.entry.on} has two closings here; keep one"
            yield Fault(f"/days/{number}/on", detail, "repeated")
        if (day.supersedes is None) != (day.reason is None):
            name = "reason" if day.reason is None else "supersedes"
            yield Fault(f"/days/{number}/{name}", "a correction names what it corrects, and why", "missing")


def _refuse_ledger(component: Component, on: date) -> None:
    """One ledger a body of product: a manifolded tank has its system's, a divided tank one for each compartment."""
    parts = [one.tag for one in Compartment.objects.filter(parent=component)]
    tank = Tank.objects.filter(pk=component.pk).first()
    shared = tank is not None and tank.multiple_tanks and tank.parent is not None
    if parts:
        raise Conflict(f"{component.tag} is divided; keep a ledger for each compartment: {', '.join(parts)}.")
    if tank is not None and tank.parent is not None and shared:
        raise Conflict(
            f"{tank.tag} is manifolded; its ledger is kept under {tank.parent.tag}, all tanks together."
        )
    if component.kind == Kind.TANK_SYSTEM and not tanks_of_ledger(component, on):
        raise Conflict(
            f"{component.tag} has no manifolded tanks (multiple_tanks); keep a ledger for each tank by its tag."
        )


def _refuse_second_closings(
    days: Sequence[StatedDay],
    standing: Mapping[date, InventoryDay],
    submitted_by: Organisation,
    facility: Facility,
) -> None:
    found = list[Fault]()
    for number, day in enumerate(days):
        row, place = standing.get(day.entry.on), f"/days/{number}"
        if row is None and day.supersedes is not None:
            detail = f"nothing stands on {day.entry.on}; leave supersedes out"
            found.append(Fault(f"{place}/supersedes", detail, "unknown"))
        elif row is not None and day.supersedes is None:
            detail = f"{row.on} is on file as entry {row.pk}; to correct it send supersedes and reason"
            found.append(Fault(f"{place}/on", detail, "repeated"))
        elif row is not None and day.supersedes != row.pk:
            found.append(Fault(f"{place}/supersedes", f"what stands is entry {row.pk}; read it", "stale"))
        elif row is not None:
            sender = row.submitted_by_id
            refuse_others(
                submitted_by, sender_id=sender, facility=facility, did="stated this day", do="correct"
            )
    if found:
        raise Conflict("Nothing was stored. A day has one closing; mend each place named in errors.", found)


def _measured(component: Component, days: Sequence[StatedDay]) -> list[Entry]:
    """The days in gallons, each by the chart of its day."""
    entries, faults = list[Entry](), list[Fault]()
    vessels = vessels_by_day(component, [day.entry.on for day in days])
    for number, day in enumerate(days):
        if not vessels[day.entry.on]:
            detail = "by the register no tank of this ledger was in the ground that day; correct the day, or the tank"
            faults.append(Fault(f"/days/{number}/on", detail, "out-of-range"))
            continue
        entry, wrong = measured(day.entry, vessels[day.entry.on])
        entries.append(entry)
        faults.extend(fault.under(f"/days/{number}") for fault in wrong)
    refuse(faults)
    return entries


def _chain_faults(entries: Sequence[Entry], rows: Sequence[InventoryDay]) -> Iterator[Fault]:
    """What the days contradict: each other, or a day on file."""
    number_of = {entry.on: number for number, entry in enumerate(entries)}
    kept = [entry for entry in entries_of(rows) if entry.on not in number_of]
    links = chain([*kept, *entries])
    before = _contradictions(chain(entries_of(rows)))
    for on, fault in _contradictions(links):
        if on in number_of:
            yield fault.under(f"/days/{number_of[on]}")
        elif (on, fault) not in before:
            yield Fault("/days", f"{on}, which is on file, then no longer fits: {fault.detail}", fault.code)


def _contradictions(links: Sequence[Link]) -> list[tuple[date, Fault]]:
    return [*((link.entry.on, fault) for link in links for fault in link.faults), *opening_faults(links)]


def _store(
    day: StatedDay,
    entry: Entry,
    *,
    component: Component,
    supersedes: InventoryDay | None,
    submitted_by: Organisation,
    by: str,
    now: datetime,
) -> InventoryDay:
    plain: dict[str, Any] = {name: getattr(entry, name) for name in PLAIN}
    row = InventoryDay(
        facility_id=component.facility_id,
        component=component,
        on=entry.on,
        submitted_by=submitted_by,
        recorded_at=now,
        recorded_by=by,
        readings=msgspec.to_builtins(entry.readings),
        meters=msgspec.to_builtins(entry.meters),
        note=day.note,
        supersedes=supersedes,
        reason=day.reason,
        **plain,
    )
    clean(row)
    row.save()
    InventoryDelivery.objects.bulk_create([_delivery(row, one) for one in entry.deliveries])
    return row


def _delivery(row: InventoryDay, one: Delivery) -> InventoryDelivery:
    fields = msgspec.to_builtins(one)
    return InventoryDelivery(day=row, **{name: fields[name] for name in Delivery.__struct_fields__})

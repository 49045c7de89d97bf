"""Reads ledgers of inventory control for others."""

from collections.abc import Collection, Iterable
from datetime import date

import msgspec
from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from equipment.models import Compartment, Component, InventoryDay, InventoryDelivery, Tank, TankChart
from equipment.physics.ledger_entries import Delivery, Entry
from equipment.physics.ledger_readings import Vessel
from equipment.queries import chart_on, chart_rows_of
from equipment.vocabulary import Kind

LEDGER_KINDS = (Kind.TANK, Kind.COMPARTMENT, Kind.TANK_SYSTEM)


def inventory_days(component: Component) -> QuerySet[InventoryDay]:
    """Every row of a ledger, corrected and withdrawn ones too, with its deliveries."""
    deliveries = Prefetch("deliveries", InventoryDelivery.objects.order_by("pk"))
    rows = InventoryDay.objects.filter(component=component)
    return rows.select_related("submitted_by").prefetch_related(deliveries)


def standing_days(component: Component, first: date, last: date) -> list[InventoryDay]:
    """The rows that count, oldest first: neither withdrawn nor corrected by one that stands."""
    corrected = InventoryDay.objects.filter(supersedes=OuterRef("pk"), withdrawn_at=None)
    rows = inventory_days(component).filter(~Exists(corrected), withdrawn_at=None, on__range=(first, last))
    return list(rows.order_by("on"))


def entries_of(rows: Iterable[InventoryDay]) -> list[Entry]:
    """Rows as the arithmetic takes them."""
    return [_entry(row) for row in rows]


def tanks_of_ledger(component: Component, day: date) -> list[Component]:
    """The tank or compartment itself; for a tank system its manifolded tanks in the ground that day."""
    return _in_the_ground(_tanks(component), day)


def vessels_by_day(component: Component, days: Collection[date]) -> dict[date, dict[str, Vessel]]:
    """The tanks of a ledger on each of these days, by tag, with the chart that held then."""
    tanks = _tanks(component)
    charts = chart_rows_of([tank.pk for tank in tanks])
    return {
        day: {tank.tag: _vessel(tank, charts.get(tank.pk, []), day) for tank in _in_the_ground(tanks, day)}
        for day in days
    }


def _tanks(component: Component) -> list[Component]:
    if component.kind == Kind.TANK_SYSTEM:
        return list(Tank.objects.filter(parent=component, multiple_tanks=True).order_by("pk"))
    model = Tank if component.kind == Kind.TANK else Compartment
    return list(model._default_manager.filter(pk=component.pk))


def _in_the_ground(tanks: Iterable[Component], day: date) -> list[Component]:
    return [
        tank
        for tank in tanks
        if (tank.installed_on is None or tank.installed_on <= day)
        and (tank.removed_on is None or tank.removed_on > day)
    ]


def _vessel(tank: Component, charts: Iterable[TankChart], day: date) -> Vessel:
    row = chart_on(charts, day)
    return Vessel(
        tag=tank.tag,
        capacity_gal=getattr(tank, "compartment_capacity_gallons", None),
        diameter_in=getattr(tank, "diameter_in", None),
        chart=row.chart if row is not None else None,
    )


def _entry(row: InventoryDay) -> Entry:
    deliveries = [
        {name: getattr(one, name) for name in Delivery.__struct_fields__} for one in row.deliveries.all()
    ]
    plain = {
        "on": row.on,
        "id": row.pk,
        "amended": row.supersedes_id is not None,
        "deliveries": deliveries,
    }
    own = [name for name in Entry.__struct_fields__ if name not in plain]
    return msgspec.convert(plain | {name: getattr(row, name) for name in own}, Entry)

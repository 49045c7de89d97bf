"""Puts tank charts on file: the maker's, one calibrated on site, or one computed from the tank's shape."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

import msgspec
from django.db import transaction

from equipment.faults import Fault, refuse
from equipment.models import Compartment, Component, Facility, Organisation, Tank, TankChart
from equipment.physics.chart_check import Check, check_chart
from equipment.physics.charts import STEPS, Row, chart_faults, computed_chart
from equipment.physics.geometry import Shape, shape_faults, tank_of
from equipment.services.stating import state_fact
from equipment.vocabulary import ChartSource, Kind

CHARTED = (Kind.TANK, Kind.COMPARTMENT)
# A computed chart is kept to the thousandth of a gallon: no stick and no drawing tells more.
KEPT = 3


@transaction.atomic
def state_chart(
    *,
    facility: Facility,
    component: Component,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    source: str,
    rows: Sequence[Row] | None,
    shape: Shape | None,
    step_in: float | None,
    effective_on: date | None,
    note: str | None,
) -> TankChart:
    """The chart of a tank or compartment. `rows` as supplied, or None to compute them from the shape every `step_in`.

    A supplied chart may come with the shape it is to be compared with. A diameter that the shape does not state is the
    register's. Raises `Invalid` with pointers into `/rows` and `/geometry`.
    """
    shape = _with_diameter(shape, component)
    refuse(_faults(component, source, rows, shape, step_in))
    tank = None if shape is None else tank_of(shape)
    if rows is None and tank is not None:
        rows = [Row(row.depth_in, round(row.gal, KEPT)) for row in computed_chart(tank, step_in or 1.0).rows]
    return state_fact(
        TankChart,
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        fields={
            "component": component,
            "source": source,
            "rows": msgspec.to_builtins(rows),
            "geometry": msgspec.to_builtins(tank),
            "effective_on": effective_on,
            "note": note,
        },
        past=("effective_on",),
    )


def registered_diameter(component: Component) -> float | None:
    """Inches by the register: the tank's own, or that of the tank in which the compartment lies."""
    shell = component.parent_id if component.kind == Kind.COMPARTMENT else component.pk
    if shell is None:
        return None
    return Tank.objects.filter(pk=shell).values_list("diameter_in", flat=True).first()


def checked(row: TankChart) -> Check:
    """The chart against its own shape, or the register's diameter, and against the register's capacity."""
    shell = Tank.objects.filter(pk=row.component_id).first()
    part = Compartment.objects.filter(pk=row.component_id).first() if shell is None else None
    holder = shell or part
    return check_chart(
        row.chart,
        shape=row.tank,
        diameter_in=registered_diameter(row.component),
        capacity_gal=holder.compartment_capacity_gallons if holder else None,
    )


def _with_diameter(shape: Shape | None, component: Component) -> Shape | None:
    if shape is None or shape.diameter_in is not None:
        return shape
    return msgspec.structs.replace(shape, diameter_in=registered_diameter(component))


def _faults(
    component: Component,
    source: str,
    rows: Sequence[Row] | None,
    shape: Shape | None,
    step_in: float | None,
) -> Iterator[Fault]:
    if component.kind not in CHARTED:
        detail = (
            f"{component.tag} is a {component.get_kind_display()}; a chart belongs to a tank or compartment"
        )
        yield Fault("", detail, "wrong-kind")
        return
    if shape is not None:
        yield from (fault.under("/geometry") for fault in shape_faults(shape))
    if source == ChartSource.COMPUTED:
        yield from _computing_faults(rows, shape, step_in)
        return
    if step_in is not None:
        yield Fault("/step_in", "only a computed chart has a step; leave it out", "unexpected")
    diameter = shape.diameter_in if shape is not None else registered_diameter(component)
    yield from chart_faults(rows or (), diameter_in=diameter)


def _computing_faults(
    rows: Sequence[Row] | None, shape: Shape | None, step_in: float | None
) -> Iterator[Fault]:
    if rows is not None:
        detail = "a computed chart is worked out here; leave the rows out, or name another source"
        yield Fault("/rows", detail, "unexpected")
    if shape is None:
        yield Fault(
            "/geometry", "state diameter and length, and the heads where they are not flat", "missing"
        )
    if step_in is not None and step_in not in STEPS:
        yield Fault("/step_in", f"one of: {', '.join(f'{each:g}' for each in STEPS)} in", "choice")

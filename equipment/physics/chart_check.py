"""A chart held against what else is known of the tank. What differs is flagged for somebody to look at, never altered.

The tank's own chart counts all the same: domed ends and fittings are real. Flagged at 2 percent of capacity; common
practice has 1 to 2, no source.
"""

from math import pi

import msgspec

from equipment.physics.charts import FLAG_PERCENT, Chart, Difference, differences
from equipment.physics.tank import Tank
from equipment.physics.units import CUBIC_INCHES_A_GALLON

BY_SHAPE = "the shape stated with the chart"
BY_DIAMETER = "the register's diameter, flat ends and the chart's own capacity"
END_GAP_IN = 1.0


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """`basis`: what the chart was compared with; None: nothing is known. `tank` is that shape, to draw it."""

    basis: str | None
    tank: Tank | None
    flag_percent: float
    differences: tuple[Difference, ...]
    remarks: tuple[str, ...]


def check_chart(
    chart: Chart, *, shape: Tank | None, diameter_in: float | None, capacity_gal: float | None
) -> Check:
    """Compare with the stated shape, else with the register's diameter; with the register's capacity in any case."""
    if shape is not None:
        basis, tank = BY_SHAPE, shape
    elif diameter_in is not None:
        basis, tank = BY_DIAMETER, flat_tank(diameter_in, chart.capacity_gal)
    else:
        basis, tank = None, None
    return Check(
        basis=basis,
        tank=tank,
        flag_percent=FLAG_PERCENT,
        differences=tuple(differences(chart, tank)) if tank is not None else (),
        remarks=tuple(_remarks(chart, tank, capacity_gal)),
    )


def flat_tank(diameter_in: float, gallons: float) -> Tank:
    """The level tank with flat ends that holds this much."""
    area = pi * diameter_in**2 / 4
    return Tank(diameter_in=diameter_in, length_in=gallons * CUBIC_INCHES_A_GALLON / area)


def _remarks(chart: Chart, tank: Tank | None, capacity_gal: float | None) -> list[str]:
    found = []
    if tank is None:
        found.append("Nobody said how wide the tank is, so there is nothing to compare the chart with.")
    elif tank.diameter_in - chart.full_in > END_GAP_IN:
        found.append(
            f"The chart ends at {chart.full_in:g} in and the tank is {tank.diameter_in:g} in wide: its last row is "
            "taken for the full tank. Check that the sheet is complete."
        )
    if capacity_gal is not None:
        away = (chart.capacity_gal - capacity_gal) * 100 / capacity_gal
        if abs(away) > FLAG_PERCENT:
            found.append(
                f"The chart holds {chart.capacity_gal:,.0f} gal, the register says {capacity_gal:,.0f}: "
                f"{away:+.1f} percent. The chart counts; check that it is this tank's."
            )
    return found

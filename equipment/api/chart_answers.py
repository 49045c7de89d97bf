"""Answers of tank charts."""

from collections.abc import Mapping
from datetime import date
from typing import Any, get_args

from rest_framework import serializers

from equipment.api.chart_shapes import ChartRow
from equipment.api.fact_shapes import FactOut
from equipment.api.fields import DayField
from equipment.api.scalars import NumberField, TextField, WordField
from equipment.api.serializers import StrictSerializer
from equipment.models import TankChart
from equipment.physics.chart_check import Check
from equipment.physics.charts import Chart, chart_device_height, chart_volume
from equipment.physics.heads import HeadShape
from equipment.vocabulary import ChartSource

# 40 CFR 280.20(c)(1)(ii)(A) and (B).
DEVICES: Mapping[float, str] = {
    90: "a high-level alarm or a flow restrictor acts here or lower",
    95: "an automatic shutoff acts here or lower",
}


class Thousandths(NumberField):
    """What was interpolated or compared, without the digits that nobody measured."""

    def to_representation(self, value: Any) -> Any:
        """To three decimals."""
        return round(float(value), 3)


class DeviceHeight(StrictSerializer):
    """The highest eighth of an inch at which an overfill device may act."""

    percent = NumberField(read_only=True, help_text="of the chart's capacity")
    depth_in = NumberField(read_only=True, help_text="inches, rounded down to the eighth")
    gal = Thousandths(read_only=True, help_text="gallons at that depth")
    use = TextField(read_only=True)


class DifferenceOut(StrictSerializer):
    """A row that parts from the tank's shape."""

    depth_in = NumberField(read_only=True)
    chart_gal = NumberField(read_only=True)
    computed_gal = Thousandths(read_only=True)
    percent = Thousandths(read_only=True, help_text="chart less shape, of the chart's capacity")


class CheckOut(StrictSerializer):
    """The chart held against what else is known of the tank. The chart counts all the same."""

    basis = TextField(
        read_only=True, allow_null=True, help_text="what it was compared with; null: nothing is known"
    )
    flag_percent = NumberField(read_only=True, help_text="a larger difference is flagged")
    differences = DifferenceOut(many=True, read_only=True)
    remarks = serializers.ListField(child=TextField(), read_only=True)


class HeadsOut(StrictSerializer):
    """Both ends of the tank."""

    shape = WordField(choices=list(get_args(HeadShape)), read_only=True)
    depth_in = NumberField(read_only=True)
    dish_ratio = NumberField(read_only=True)
    knuckle_ratio = NumberField(read_only=True)


class GeometryOut(StrictSerializer):
    """The shape as computed with."""

    diameter_in = NumberField(read_only=True)
    length_in = NumberField(read_only=True)
    heads = HeadsOut(read_only=True)
    slope = NumberField(read_only=True)
    gauge_from_low_end_in = NumberField(read_only=True, allow_null=True)


class ChartOut(FactOut):
    """A chart on file, without its rows."""

    component = TextField(read_only=True, source="component.tag")
    source = WordField(choices=ChartSource.choices, read_only=True)  # type: ignore[assignment]
    effective_on = DayField(read_only=True, allow_null=True, help_text="null: ever since the tank was there")
    replaced_on = DayField(
        read_only=True, allow_null=True, help_text="first local day of the chart that takes its place"
    )
    note = TextField(read_only=True, allow_null=True)
    geometry = GeometryOut(read_only=True, allow_null=True)
    capacity_gal = NumberField(read_only=True, source="chart.capacity_gal", help_text="its last row")
    full_in = NumberField(read_only=True, source="chart.full_in")
    device_heights = DeviceHeight(many=True, read_only=True)


class FullChartOut(ChartOut):
    """A chart on file with its rows, held against what else is known of the tank."""

    rows = ChartRow(many=True, read_only=True)
    check = CheckOut(read_only=True)


class Shown:
    """A chart with what an answer says of it beside its own columns."""

    def __init__(self, row: TankChart, replaced_on: date | None, check: Check | None = None) -> None:
        self._row = row
        self.chart: Chart = row.chart
        self.replaced_on = replaced_on
        self.check = check
        self.rows = self.chart.rows
        self.device_heights = device_heights(self.chart)

    def __getattr__(self, name: str) -> Any:
        """The columns of the row."""
        return getattr(self._row, name)


def device_heights(chart: Chart) -> list[dict[str, Any]]:
    """The highest eighths for alarm, restrictor and shutoff."""
    found = []
    for percent, use in DEVICES.items():
        depth = chart_device_height(chart, percent)
        found.append({"percent": percent, "depth_in": depth, "gal": chart_volume(chart, depth), "use": use})
    return found

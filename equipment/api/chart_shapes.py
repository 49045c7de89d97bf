"""Bodies and query strings of tank charts."""

from collections.abc import Mapping
from datetime import date
from typing import Any, get_args

import msgspec
from rest_framework import serializers

from equipment.api.fields import DayField
from equipment.api.query_strings import PagedQuery, StrictQuery
from equipment.api.rosters import UploadField
from equipment.api.scalars import NumberField, TextField, WordField
from equipment.api.serializers import StrictSerializer
from equipment.physics.charts import STEPS, Row
from equipment.physics.geometry import Shape, StickPair
from equipment.physics.heads import Heads, HeadShape
from equipment.vocabulary import ChartSource

MAX_ROWS = 4_000


def _number(help_text: str, **options: Any) -> NumberField:
    return NumberField(required=False, allow_null=True, default=None, help_text=help_text, **options)


class ChartRow(StrictSerializer):
    """A line of the chart."""

    depth_in = NumberField(help_text="inches under the gauge")
    gal = NumberField(help_text="gallons in the tank")


class HeadsIn(StrictSerializer):
    """Both ends of the tank, alike."""

    shape = WordField(choices=list(get_args(HeadShape)))
    depth_in = NumberField(
        required=False,
        default=0.0,
        help_text="how far one head stands out: ellipsoidal, conical, guppy, spherical",
    )
    dish_ratio = NumberField(
        required=False, default=1.0, help_text="torispherical: the dish's radius over the diameter"
    )
    knuckle_ratio = NumberField(
        required=False, default=0.06, help_text="torispherical: the knuckle's radius over the diameter"
    )


class StickReadings(StrictSerializer):
    """One level read at two openings: how a tilt is measured."""

    low_end_in = NumberField(help_text="depth at the opening nearer the low end, the deeper one")
    high_end_in = NumberField(help_text="depth at the other opening, in the same minute")
    apart_in = NumberField(help_text="inches from opening to opening")


class GeometryIn(StrictSerializer):
    """The tank's shape, inside dimensions in inches; a level tank states neither slope nor readings."""

    diameter_in = _number("the register's, unless stated")
    length_in = _number("of the straight cylinder, without the heads")
    heads = HeadsIn(required=False, allow_null=True, default=None, help_text="flat, unless stated")
    slope = _number("inches of fall an inch of length; or send stick_readings")
    stick_readings = StickReadings(required=False, allow_null=True, default=None)
    gauge_from_low_end_in = _number("where depth is read, from the low end; mid-length, unless stated")

    def to_internal_value(self, data: Any) -> Shape:
        """The shape, not yet checked for sense."""
        told = super().to_internal_value(data)
        heads, readings = told.pop("heads"), told.pop("stick_readings")
        return Shape(
            **told,
            heads=Heads(**heads) if heads else Heads(),
            stick_readings=StickPair(**readings) if readings else None,
        )


class ChartIn(StrictSerializer):
    """A chart as stated: rows of its own, or a shape from which the rows are computed."""

    # DRF takes declared fields off the class, so its own `source` stays as it was.
    source = WordField(choices=ChartSource.choices)  # type: ignore[assignment]
    effective_on = DayField(
        required=False,
        allow_null=True,
        default=None,
        help_text="local day from which it holds; null: ever since the tank was there",
    )
    note = TextField(
        required=False, allow_null=True, default=None, max_length=1000, help_text="title, sheet, date"
    )
    rows = ChartRow(
        many=True,
        required=False,
        allow_null=True,
        default=None,
        help_text="by rising depth, from 0 in to the full tank; none for a computed chart",
    )
    geometry = GeometryIn(
        required=False,
        allow_null=True,
        default=None,
        help_text="a computed chart needs it; a supplied one is compared with it",
    )
    step_in = _number("of a computed chart: 1, 0.5, 0.25 or 0.125; 1 unless stated")

    def validate_rows(self, value: list[dict[str, float]] | None) -> list[Row] | None:
        """Rows as the computations take them; ValidationError for more than any stick has eighths."""
        if value is not None and len(value) > MAX_ROWS:
            raise serializers.ValidationError(f"{MAX_ROWS} rows are read at most.", code="too-long")
        return None if value is None else [Row(**row) for row in value]


class ChartFile(StrictSerializer):
    """A supplied chart as a form: its rows in a CSV file."""

    file = UploadField(help_text="CSV in UTF-8: depth_in,gal; depths as 80.875 or 80 7/8")
    source = WordField(choices=ChartSource.choices)  # type: ignore[assignment]
    effective_on = DayField(required=False, default=None, help_text="as in the JSON body")
    note = TextField(required=False, default=None, max_length=1000)
    geometry = serializers.JSONField(
        required=False, binary=True, default=None, help_text="as in the JSON body, as JSON text"
    )


class ChartQuery(PagedQuery):
    """Which charts to list."""

    on = DayField(required=False, help_text="only the one that holds on this local day")


class TableQuery(StrictQuery):
    """How the table is spaced."""

    step = WordField(
        choices=[f"{each:g}" for each in STEPS],
        required=False,
        help_text="inches from row to row, interpolated; the rows as on file unless told",
    )


def plain(told: Mapping[str, Any]) -> dict[str, Any]:
    """What was understood of a request, as JSON: what makes two requests the same."""
    return {
        name: msgspec.to_builtins(value, str_keys=True) if not isinstance(value, date) else value.isoformat()
        for name, value in told.items()
    }

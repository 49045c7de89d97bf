"""A measured quantity in a body: a number in the unit of its key, or a value with a unit of the sender's own."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from equipment.activities.units import unit_suffix
from equipment.api.scalars import NumberField, TextField
from equipment.physics.units import UnitMismatch, accept, alternates


class QuantityField(serializers.Field[float, Any, float, Any]):
    """`{"level_in": 51.2}` or `{"level_in": {"value": 1300, "unit": "mm"}}`: answers the number in the key's unit.

    Whoever uses it keeps the body as it was sent, so that the original is not lost. Bounds are in the key's unit.
    """

    default_error_messages = {
        "form": 'Send a number of {unit}, or {{"value": 12.5, "unit": one of {units}}}.',
        "low": "{value:g} {unit} is below {bound:g}; check the value and its unit.",
        "high": "{value:g} {unit} is above {bound:g}; check the value and its unit.",
    }

    def __init__(self, unit: str, *, least: float, most: float, **options: Any) -> None:
        super().__init__(**options)
        self.unit, self.least, self.most = unit, least, most

    def to_internal_value(self, data: Any) -> float:
        """The value in the key's unit; ValidationError with the units that would do."""
        value = self._converted(data) if isinstance(data, Mapping) else self._number(data)
        if value < self.least:
            self.fail("low", value=value, unit=self.unit, bound=self.least)
        if value > self.most:
            self.fail("high", value=value, unit=self.unit, bound=self.most)
        return value

    def to_representation(self, value: Any) -> float:
        """The number as kept."""
        return float(value)

    def _number(self, data: Any) -> float:
        try:
            return float(NumberField().run_validation(data))
        except serializers.ValidationError:
            self.fail("form", unit=self.unit, units=", ".join(alternates(self.unit)))

    def _converted(self, data: Mapping[str, Any]) -> float:
        if set(data) != {"value", "unit"}:
            self.fail("form", unit=self.unit, units=", ".join(alternates(self.unit)))
        stated = TextField().run_validation(data["unit"])
        try:
            return accept(self._number(data["value"]), stated, self.unit).value
        except UnitMismatch as error:
            raise serializers.ValidationError({"unit": [str(error)]}) from error


def quantity(name: str, *, least: float, most: float, help_text: str = "", **options: Any) -> QuantityField:
    """The field of a key whose name ends with its unit, such as `level_in`; described with its alternates."""
    unit = unit_suffix(name)
    if unit is None:
        raise ValueError(f"{name} states no unit")
    schema = {
        "description": help_text,
        "anyOf": [
            {"type": "number", "minimum": least, "maximum": most},
            {
                "type": "object",
                "required": ["value", "unit"],
                "additionalProperties": False,
                "properties": {
                    "value": {"type": "number"},
                    "unit": {"type": "string", "enum": list(alternates(unit))},
                },
            },
        ],
    }
    described = extend_schema_field(schema)(type("Quantity", (QuantityField,), {}))
    field: QuantityField = described(unit, least=least, most=most, help_text=help_text, **options)
    return field

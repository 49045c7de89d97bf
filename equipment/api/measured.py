"""A measured quantity in a body: a number in the unit of its key, or a value with a unit of the sender's own."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail

from equipment.activities.stated_units import accepted_units, in_own_unit, unit_faults
from equipment.activities.units import unit_of
from equipment.api.problems import unescape
from equipment.api.scalars import NumberField


class QuantityField(serializers.Field[float, Any, float, Any]):
    """`{"level_in": 51.2}` or `{"level_in": {"value": 1300, "unit": "mm"}}`: answers the number in the key's unit.

    Whoever uses it keeps the body as it was sent, so that the original is not lost. Bounds are in the key's unit.
    """

    default_error_messages = {
        "form": 'Send a number of {unit}, or {{"value": 12.5, "unit": one of {units}}}.',
        "low": "{value:g} {unit} is below {bound:g}; check the value and its unit.",
        "high": "{value:g} {unit} is above {bound:g}; check the value and its unit.",
    }

    def __init__(self, quantity: str, *, least: float, most: float, **options: Any) -> None:
        super().__init__(**options)
        self.quantity, self.least, self.most = quantity, least, most
        self.unit = unit_of(quantity)

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
            self.fail("form", unit=self.unit, units=", ".join(accepted_units(self.quantity)))

    def _converted(self, data: Mapping[str, Any]) -> float:
        faults = list(unit_faults(self.quantity, data, ""))
        if faults:
            raise serializers.ValidationError(
                {unescape(fault.pointer[1:]): [ErrorDetail(fault.detail, fault.code)] for fault in faults}
            )
        return in_own_unit(self.quantity, data)


def quantity(name: str, *, least: float, most: float, help_text: str = "", **options: Any) -> QuantityField:
    """The field of a key whose name ends with its unit, such as `level_in`; described with its alternates."""
    units = accepted_units(name)
    if not units:
        raise ValueError(f"{name} states no unit that has others in use")
    schema = {
        "description": help_text,
        "anyOf": [
            {"type": "number", "minimum": least, "maximum": most},
            {
                "type": "object",
                "required": ["value", "unit"],
                "additionalProperties": False,
                "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": list(units)}},
            },
        ],
    }
    described = extend_schema_field(schema)(type("Quantity", (QuantityField,), {}))
    field: QuantityField = described(name, least=least, most=most, help_text=help_text, **options)
    return field

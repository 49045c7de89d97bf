"""Turns what the models say can be stated into fields of the API: one column, one key, the same limits and words."""

from collections.abc import Mapping
from typing import Any

from django.db import models
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from equipment.api.fields import DayField, InstantField
from equipment.api.in_force import InForceShape
from equipment.api.scalars import NumberField, TextField, WholeField, WordField, YesNoField
from equipment.api.serializers import StrictSerializer
from equipment.models.validators import EachOf
from equipment.services.register import stated_fields

AnyField = serializers.Field[Any, Any, Any, Any]
# The narrower column type stands before the wider one. Whole numbers end where PostgreSQL's columns end.
PLAIN: "tuple[tuple[type[models.Field[Any, Any]], type[AnyField], dict[str, Any]], ...]" = (
    (models.BooleanField, YesNoField, {}),
    (models.DateTimeField, InstantField, {}),
    (models.DateField, DayField, {}),
    (models.FloatField, NumberField, {}),
    (models.PositiveSmallIntegerField, WholeField, {"min_value": 0, "max_value": 32_767}),
    (models.PositiveIntegerField, WholeField, {"min_value": 0, "max_value": 2_147_483_647}),
)


def input_shape(
    name: str, model: type[models.Model], doc: str, extra: Mapping[str, AnyField] | None = None
) -> type[StrictSerializer]:
    """The body that states a row of this model. A key left out or null says unknown, where the column allows it."""
    fields = {key: field_for(column) for key, column in stated_fields(model).items()}
    return type(name, (StrictSerializer,), {"__doc__": doc, **fields, **(extra or {})})


def output_shape(
    name: str, model: type[models.Model], doc: str, extra: Mapping[str, AnyField]
) -> type[StrictSerializer]:
    """The answer that shows every stated field of a row, null for unknown, with `extra` and what holds today."""
    fields = {key: field_for(column, read_only=True) for key, column in stated_fields(model).items()}
    return type(name, (InForceShape,), {"__doc__": doc, **extra, **fields})


def field_for(column: "models.Field[Any, Any]", *, read_only: bool = False) -> AnyField:
    """The API's field for a column: same type, same words, same length, null where the column may be null."""
    options: dict[str, Any] = {"allow_null": column.null}
    if column.help_text:
        options["help_text"] = column.help_text
    if read_only:
        options["read_only"] = True
    else:
        options["required"] = not column.null and not column.has_default()
    return _typed(column, options)


def constant(word: str, **options: Any) -> AnyField:
    """A field that can only hold this one word: what tells the kinds of one-of bodies apart."""

    @extend_schema_field({"type": "string", "const": word})
    class Constant(WordField):
        pass

    return Constant(choices=[word], **options)


def _typed(column: "models.Field[Any, Any]", options: dict[str, Any]) -> AnyField:
    if isinstance(column, models.JSONField):
        return serializers.ListField(child=_entry(column), **options)
    if isinstance(column, models.CharField):
        return (
            WordField(choices=column.choices, **options)
            if column.choices
            else TextField(max_length=column.max_length, **options)
        )
    for column_type, field_type, limits in PLAIN:
        if isinstance(column, column_type):
            return field_type(**limits, **options)
    raise TypeError(f"no field of the API is known for {column}")


def _entry(column: "models.Field[Any, Any]") -> AnyField:
    """One entry of a list column: a word of its list, or a text."""
    for validator in column.validators:
        if isinstance(validator, EachOf):
            return WordField(choices=list(validator.words))
    return TextField(max_length=100)

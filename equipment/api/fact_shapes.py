"""Bodies and answers of the facts that are neither register, change nor record: columns as the models have them.

What a column cannot say is built here: moments of two columns, subjects by tag, the person, the letter, who knew when.
"""

from collections.abc import Mapping
from typing import Any

from django.db import models
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from equipment.api.fields import DayField, InstantField, MomentField
from equipment.api.scalars import NumberField, TextField, WholeField
from equipment.api.serializers import StrictSerializer
from equipment.api.stated import AnyField, field_for
from equipment.models import FacilityFact
from equipment.moments import Moment
from equipment.services.happenings import Knowledge

MAX_SUBJECTS = 100


class StatedMoment(MomentField):
    """A moment as it was stated: the instant, else the local day, of the columns that begin with `stem`."""

    def __init__(self, stem: str) -> None:
        super().__init__(source="*", read_only=True, allow_null=True)
        self.stem = stem

    def to_representation(self, value: Any) -> str | None:  # type: ignore[override]
        """ISO 8601; None when nobody said."""
        day, instant = getattr(value, f"{self.stem}_on"), getattr(value, f"{self.stem}_at")
        return None if day is None else str(Moment(day=day, instant=instant))


class Tags(serializers.ListField):
    """Tags of the components that a fact is about; empty: the whole facility."""

    def __init__(self) -> None:
        super().__init__(child=TextField(), source="*", read_only=True)

    def to_representation(self, data: Any) -> list[str]:
        """In the order of registration."""
        return [one.component.tag for one in data.named.all()]


class PersonNamed(StrictSerializer):
    """Whom a designation names."""

    id = WholeField(read_only=True)
    name = TextField(read_only=True)


class SpillKnowledgeIn(StrictSerializer):
    """A party that knew of a spill."""

    party = TextField(max_length=100, help_text="owner, operator, contractor, ...")
    at = InstantField()

    def to_internal_value(self, data: Any) -> Knowledge:
        """Party and instant."""
        return Knowledge(**super().to_internal_value(data))


class SpillKnowledgeOut(StrictSerializer):
    """A party that knew of a spill, and since when."""

    party = TextField(read_only=True)
    at = InstantField(read_only=True)


@extend_schema_field({"anyOf": [{"type": "number"}, {"type": "string"}, {"type": "boolean"}]})
class FigureField(serializers.Field[Any, Any, Any, Any]):
    """What a rule's parameter may be: a number, a text such as "60 days", or yes and no."""

    def to_internal_value(self, data: Any) -> Any:
        """The figure as sent."""
        if isinstance(data, bool):
            return data
        if isinstance(data, int | float):
            return NumberField().run_validation(data)
        if isinstance(data, str):
            return TextField(max_length=100).run_validation(data)
        raise ValidationError([ErrorDetail('Send a number, or a text such as "60 days".', code="invalid")])

    def to_representation(self, value: Any) -> Any:
        """The figure as stated."""
        return value


class FactOut(StrictSerializer):
    """What every answered fact says about itself."""

    id = WholeField(read_only=True)
    submitted_by = TextField(
        source="submitted_by.name", read_only=True, help_text="organisation that stated it"
    )
    recorded_at = InstantField(read_only=True)
    recorded_by = TextField(read_only=True)
    withdrawn_at = InstantField(read_only=True, allow_null=True, help_text="null: it stands")
    withdrawn_reason = TextField(read_only=True, allow_null=True)
    withdrawn_by = TextField(read_only=True, allow_null=True)


class EndIn(StrictSerializer):
    """The last day on which it holds."""

    ended_on = DayField(help_text="the last local day; it may be a coming one")


END_STATED: dict[str, AnyField] = {
    "end_recorded_at": InstantField(
        read_only=True, allow_null=True, help_text="when its last day was stated"
    ),
    "end_recorded_by": TextField(read_only=True, allow_null=True),
}


def body_shape(
    model: type[FacilityFact], columns: tuple[str, ...], apart: Mapping[str, AnyField]
) -> type[StrictSerializer]:
    """The body that states such a fact. A key left out or null says unknown, where the column allows it."""
    doc = f"A {model._meta.verbose_name} as stated."
    return type(
        f"{model.__name__}In", (StrictSerializer,), {"__doc__": doc, **apart, **_fields(model, columns)}
    )


def answer_shape(
    model: type[FacilityFact], columns: tuple[str, ...], apart: Mapping[str, AnyField]
) -> type[StrictSerializer]:
    """The answer that shows such a fact, null for unknown."""
    doc = f"A {model._meta.verbose_name} as on file."
    fields = _fields(model, columns, read_only=True)
    return type(f"{model.__name__}Out", (FactOut,), {"__doc__": doc, **apart, **fields})


def moment(*, required: bool = True, help_text: str = "a local day or an instant") -> AnyField:
    """A moment in a body."""
    if required:
        return MomentField(help_text=help_text)
    return MomentField(required=False, allow_null=True, default=None, help_text=help_text)


def tags(help_text: str = "tags; none: the whole facility") -> AnyField:
    """Subjects in a body."""
    child = TextField(max_length=30)
    return serializers.ListField(
        child=child, required=False, default=list, max_length=MAX_SUBJECTS, help_text=help_text
    )


def _fields(
    model: type[models.Model], columns: tuple[str, ...], *, read_only: bool = False
) -> dict[str, AnyField]:
    found = {name: model._meta.get_field(name) for name in columns}
    return {
        name: field_for(column, read_only=read_only)
        for name, column in found.items()
        if isinstance(column, models.Field)
    }

"""Bodies and answers of dated changes: a status, or another field's value, told apart by `type`."""

import base64
from collections.abc import Mapping
from datetime import date
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from equipment.api.fields import DayField, InstantField
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import NumberField, TextField, WordField
from equipment.api.serializers import StrictSerializer
from equipment.api.stated import constant
from equipment.change_log import TABLES, Change, Place, type_of
from equipment.vocabulary import Status


class ChangeIn(StrictSerializer):
    """What every change says: of what, and from which local day on."""

    component = TextField(
        required=False, allow_null=True, default=None, help_text="tag; null: the whole facility"
    )
    effective_on = DayField(help_text="the first local day on which it holds")


class StatusIn(ChangeIn):
    """From this day on, the component or facility has this status."""

    type = constant("status")
    status = WordField(choices=Status.choices)
    residue_in = NumberField(
        required=False, allow_null=True, default=None, help_text="measured depth of what is left, inches"
    )
    residue_pct = NumberField(
        required=False,
        allow_null=True,
        default=None,
        help_text="what is left, per cent by weight of the system's capacity",
    )


class FieldIn(ChangeIn):
    """From this day on, one field has this value; earlier days keep theirs."""

    type = constant("field")
    field = TextField(help_text="a field of the component's kind, or of the facility")
    value = serializers.JSONField(allow_null=True, help_text="as in the register; null: unknown from then on")


class ChangeOut(StrictSerializer):
    """What every answered change says."""

    id = serializers.SerializerMethodField(help_text="names it in the address of its withdrawal")
    component = TextField(source="component.tag", allow_null=True, default=None, read_only=True)
    effective_on = DayField(read_only=True)
    recorded_at = InstantField(read_only=True)
    recorded_by = TextField(read_only=True)
    withdrawn_at = InstantField(read_only=True, allow_null=True, help_text="null: it stands")
    withdrawn_reason = TextField(read_only=True, allow_null=True)
    withdrawn_by = TextField(read_only=True, allow_null=True)

    def get_id(self, change: Change) -> str:
        """The type and the number."""
        return f"{type_of(change)}-{change.pk}"


class StatusOut(ChangeOut):
    """A status as on file."""

    type = constant("status", read_only=True, default="status")
    status = WordField(choices=Status.choices, read_only=True)
    residue_in = NumberField(read_only=True, allow_null=True)
    residue_pct = NumberField(read_only=True, allow_null=True)


class FieldOut(ChangeOut):
    """A field's value as on file."""

    type = constant("field", read_only=True, default="field")
    field = TextField(read_only=True)
    value = serializers.JSONField(read_only=True, allow_null=True)


class WithdrawalIn(StrictSerializer):
    """Why a change should never have been stated."""

    reason = TextField(max_length=500)


SHAPES_IN: dict[str, type[StrictSerializer]] = {"status": StatusIn, "field": FieldIn}
SHAPES_OUT: dict[str, type[StrictSerializer]] = {"status": StatusOut, "field": FieldOut}


def one_of(name: str, shapes: Mapping[str, type[StrictSerializer]], *, many: bool = False) -> Any:
    """The OpenAPI one-of of both types, with `type` as its discriminator."""
    return PolymorphicProxySerializer(
        component_name=name, serializers=dict(shapes), resource_type_field_name="type", many=many
    )


class ChangeQuery(PagedQuery):
    """Which changes to list."""

    component = serializers.CharField(required=False, help_text="tag of one component")
    limit = serializers.IntegerField(required=False, min_value=1, max_value=200, default=50)

    def validate_cursor(self, value: str) -> Place:
        """The place that the cursor names."""
        try:
            day, name, number = base64.urlsafe_b64decode(value).decode("ascii").split(" ")
            return Place(date.fromisoformat(day), name, int(number))
        except ValueError as error:
            raise ValidationError("Take the cursor from `next` of an answer.", code="invalid") from error


def cursor_of(place: Place) -> str:
    """A place as an opaque text for the address of the next page."""
    return base64.urlsafe_b64encode(f"{place.effective_on} {place.type} {place.pk}".encode()).decode()


def body_for(body: Any) -> StrictSerializer:
    """The shape that this body's `type` asks for, not yet checked."""
    name = body.get("type") if isinstance(body, Mapping) else None
    if not isinstance(name, str) or name not in SHAPES_IN:
        raise ValidationError({"type": [ErrorDetail("Send a type: status or field.", code="choice")]})
    return SHAPES_IN[name](data=body)


def answer(change: Change) -> dict[str, Any]:
    """A change as the API shows it."""
    return dict(SHAPES_OUT[type_of(change)](change).data)


def split_id(text: str) -> tuple[type[Change], int] | None:
    """The table and the number of an id such as status-12; None when it is no such id."""
    name, _, number = text.partition("-")
    for known, model in TABLES.items():
        if name == known and number.isascii() and number.isdigit() and len(number) < 19:
            return model, int(number)
    return None

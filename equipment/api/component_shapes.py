"""Bodies and answers of components: one shape a kind, told apart by `kind`.

The kinds and their columns are the models' own (equipment/models, `stated_fields`); nothing is listed a second time.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework.exceptions import ErrorDetail, ValidationError

from equipment.api.scalars import TextField, WholeField
from equipment.api.serializers import StrictSerializer
from equipment.api.stated import AnyField, constant, input_shape, output_shape
from equipment.change_log import in_force_at_components
from equipment.models import KINDS, Component

LINKS = ("parent", "replaces")


def _links(**options: Any) -> dict[str, AnyField]:
    return {
        "parent": TextField(
            max_length=30,
            allow_null=True,
            help_text="tag of what it is part of; null: the facility",
            **options,
        ),
        "replaces": TextField(
            max_length=30, allow_null=True, help_text="tag of the component it took the place of", **options
        ),
    }


def _statement(model: type[Component]) -> type[StrictSerializer]:
    """The body that adds a component: the tag may be left out, the next free one is then taken."""
    own_tag = TextField(required=False, max_length=30, help_text="short name, unique at the facility")
    extra = {"kind": constant(model.KIND.value), "tag": own_tag, **_links(required=False)}
    return input_shape(f"{model.__name__}In", model, f"A {model.KIND.label} as stated.", extra)


def _correction(model: type[Component]) -> type[StrictSerializer]:
    """The body that corrects one: only what is sent changes; `kind`, where sent, must be the right one."""
    extra = {"kind": constant(model.KIND.value, required=False), **_links(required=False)}
    return input_shape(f"{model.__name__}Correction", model, f"A {model.KIND.label}, put right.", extra)


def _answer(model: type[Component]) -> type[StrictSerializer]:
    """The answer: every stated field, null for unknown, links as tags."""
    extra: dict[str, AnyField] = {
        "facility": WholeField(source="facility_id", read_only=True),
        "kind": constant(model.KIND.value, read_only=True),
        "parent": TextField(source="parent.tag", allow_null=True, default=None, read_only=True),
        "replaces": TextField(source="replaces.tag", allow_null=True, default=None, read_only=True),
        "version": WholeField(read_only=True, help_text="of this row; the ETag names it"),
    }
    return output_shape(f"{model.__name__}Out", model, f"A {model.KIND.label} as on file.", extra)


STATEMENT_OF_KIND: dict[str, type[StrictSerializer]] = {
    model.KIND.value: _statement(model) for model in KINDS
}
CORRECTION_OF_KIND: dict[str, type[StrictSerializer]] = {
    model.KIND.value: _correction(model) for model in KINDS
}
ANSWER_OF_KIND: dict[str, type[StrictSerializer]] = {model.KIND.value: _answer(model) for model in KINDS}


def one_of(name: str, shapes: Mapping[str, type[StrictSerializer]], *, many: bool = False) -> Any:
    """The OpenAPI one-of of all kinds, with `kind` as its discriminator."""
    serializers: dict[str, Any] = dict(shapes)
    return PolymorphicProxySerializer(
        component_name=name, serializers=serializers, resource_type_field_name="kind", many=many
    )


def statement_for(body: Any) -> StrictSerializer:
    """The shape that this body's `kind` asks for, not yet checked; refuses a body without a known kind."""
    kind = body.get("kind") if isinstance(body, Mapping) else None
    if not isinstance(kind, str) or kind not in STATEMENT_OF_KIND:
        known = ", ".join(STATEMENT_OF_KIND)
        raise ValidationError({"kind": [ErrorDetail(f"Send a kind: {known}.", code="choice")]})
    return STATEMENT_OF_KIND[kind](data=body)


def answer(component: Component) -> dict[str, Any]:
    """A component, a row of its own kind's table, as the API shows it."""
    return answers([component])[0]


def answers(components: Sequence[Component]) -> list[dict[str, Any]]:
    """Several of them, in the order given."""
    context = {"in_force": in_force_at_components([one.pk for one in components])}
    return [dict(ANSWER_OF_KIND[one.kind](one, context=context).data) for one in components]

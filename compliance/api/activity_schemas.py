"""Describes a posted record in the OpenAPI file as one of the activities, each with its own measurements."""

from typing import Any

from drf_spectacular.extensions import OpenApiSerializerExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.utils import Direction

from equipment.activities.catalogue import catalogue
from equipment.activities.definitions import Activity
from equipment.activities.schemas import json_schema, stated_units


class RecordByActivity(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """`RecordIn` becomes a one-of, told apart by `activity`."""

    target_class = "compliance.api.record_shapes.RecordIn"

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """The one-of, with a component registered for each activity."""
        shared = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)  # type: ignore[no-untyped-call]
        refs = {}
        for activity in catalogue().values():
            for name, schema in stated_units(activity).items():
                auto_schema.registry.register_on_missing(_unit_component(name, schema))
            component = ResolvedComponent(  # type: ignore[no-untyped-call]
                name=_name(activity),
                type=ResolvedComponent.SCHEMA,
                object=_name(activity),
                schema=_schema(activity, shared),
            )
            auto_schema.registry.register_on_missing(component)
            refs[activity.slug] = component.ref
        return {
            "oneOf": list(refs.values()),
            "discriminator": {
                "propertyName": "activity",
                "mapping": {slug: ref["$ref"] for slug, ref in refs.items()},
            },
        }


def _name(activity: Activity) -> str:
    return "Record" + "".join(word.capitalize() for word in activity.slug.split("-"))


def _unit_component(name: str, schema: dict[str, Any]) -> ResolvedComponent:
    shared = "".join(word.capitalize() for word in name.split("_"))
    return ResolvedComponent(  # type: ignore[no-untyped-call]
        name=shared, type=ResolvedComponent.SCHEMA, object=shared, schema=schema
    )


def _shared_units(shape: Any) -> Any:
    """With the shapes of units under components, where they stand once for all activities."""
    if isinstance(shape, dict):
        ref = shape.get("$ref", "")
        if ref.startswith("#/$defs/stated_"):
            words = ref.removeprefix("#/$defs/").split("_")
            return {"$ref": "#/components/schemas/" + "".join(word.capitalize() for word in words)}
        return {key: _shared_units(value) for key, value in shape.items() if key != "$defs"}
    return [_shared_units(part) for part in shape] if isinstance(shape, list) else shape


def _schema(activity: Activity, shared: dict[str, Any]) -> dict[str, Any]:
    measurements = {
        key: value
        for key, value in _shared_units(json_schema(activity)).items()
        if key not in ("$schema", "$id")
    }
    required = ["activity", "performed_at"]
    if any(one.required for one in activity.measurements):
        required.append("measurements")
    return {
        "type": "object",
        "title": activity.title,
        "description": f"{activity.title}. {activity.cite}. {activity.caution}".strip(),
        "properties": shared["properties"]
        | {"activity": {"type": "string", "const": activity.slug}, "measurements": measurements},
        "required": required,
        "additionalProperties": False,
    }

"""JSON Schema (2020-12) and worked examples of an activity's measurements, for OpenAPI and form builders."""

import copy
from typing import Any

from equipment.activities.definitions import Activity, Measurement
from equipment.activities.measurements import MAX_ITEMS, MAX_NUMBER, MAX_TEXT, NOT_BLANK
from equipment.activities.stated_units import PARTS, accepted_units, takes_unit
from equipment.activities.units import suffix_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(activity: Activity) -> dict[str, Any]:
    """The schema of `measurements`: accepts what `check_measurements` accepts.

    Four things only the check knows: a text that nearly is a word that rules look for, characters that cannot be
    stored, the limits of a sender's own `x_` values, and bounds of a value that comes with a unit of its own.
    """
    units = stated_units(activity)
    return {
        "$schema": DIALECT,
        "title": f"Measurements of: {activity.title}",
        "description": f"{activity.cite}. {activity.caution}",
        **_object(activity.measurements),
        "examples": [example(activity)],
        **({"$defs": units} if units else {}),
    }


def stated_units(activity: Activity) -> dict[str, Any]:
    """A shape for each unit that measurements of the activity are named by: a value and the unit it is stated in."""
    measurements = [
        *activity.measurements,
        *(field for each in activity.measurements for field in each.fields),
    ]
    return {
        f"stated_{suffix_of(each.name)}": {
            "type": "object",
            "description": "The value in another unit; it is converted, and the original is kept.",
            "properties": {
                "value": {"type": "number", "minimum": -MAX_NUMBER, "maximum": MAX_NUMBER},
                # One level down: the OpenAPI generator would lift a bare enum out under a name of its own.
                "unit": {"type": "string", "allOf": [{"enum": list(accepted_units(each.name))}]},
            },
            "required": list(PARTS),
            "additionalProperties": False,
        }
        for each in measurements
        if takes_unit(each)
    }


def example(activity: Activity) -> dict[str, Any]:
    """Believable measurements of this activity, a fresh copy each time."""
    return copy.deepcopy(dict(activity.example))


def _object(known: tuple[Measurement, ...]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {each.name: _property(each) for each in known},
        "required": [each.name for each in known if each.required],
        "patternProperties": {"^x_": {}},
        "additionalProperties": False,
    }


def _property(known: Measurement) -> dict[str, Any]:
    """A property that may be null (unknown), unless the record is meaningless without it."""
    shape = _shape(known)
    if not known.required:
        shape["type"] = [shape["type"], "null"]
        if "enum" in shape:
            shape["enum"] = [*shape["enum"], None]
    if takes_unit(known):
        shape = {"anyOf": [shape, {"$ref": f"#/$defs/stated_{suffix_of(known.name)}"}]}
    return {**shape, "description": _description(known)}


def _shape(known: Measurement) -> dict[str, Any]:
    match known.type:
        case "number" | "integer" | "boolean":
            return {"type": known.type, **_bounds(known)}
        case "text":
            return _text() | ({"examples": list(known.words)} if known.words else {})
        case "choice":
            return _choice(known)
        case "list-of-choice":
            return _list(known, _choice(known)) | {"uniqueItems": True}
        case "list-of-text":
            return _list(known, _text())
        case "rows":
            return _list(known, _object(known.fields))


def _text() -> dict[str, Any]:
    return {"type": "string", "pattern": NOT_BLANK, "maxLength": MAX_TEXT}


def _choice(known: Measurement) -> dict[str, Any]:
    return {"type": "string", "enum": list(known.choices)}


def _list(known: Measurement, items: dict[str, Any]) -> dict[str, Any]:
    shape: dict[str, Any] = {"type": "array", "items": items, "maxItems": MAX_ITEMS}
    return shape | ({"minItems": 1} if known.required else {})


def _bounds(known: Measurement) -> dict[str, float]:
    if known.type == "boolean":
        return {}
    return {
        "minimum": -MAX_NUMBER if known.min is None else known.min,
        "maximum": MAX_NUMBER if known.max is None else known.max,
    }


def _description(known: Measurement) -> str:
    return f"{known.description} Unit: {known.unit}." if known.unit else known.description

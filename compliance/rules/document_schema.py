"""The JSON Schema (2020-12) of the site document, made from the same shapes that read it."""

from typing import Any, get_args

import msgspec

from compliance.rules.component_rows import AnyComponent
from compliance.rules.document import ROW_TYPES
from compliance.rules.document_changes import Residue
from compliance.rules.document_rows import Document, Facility

IDENTITY = "urn:marina-fuel-compliance:site-document:1"


def document_schema() -> dict[str, Any]:
    """The schema as plain JSON values. Keys that begin with `x_` are allowed everywhere; null means unknown."""
    schema: dict[str, Any] = msgspec.json.schema(Document)
    definitions = schema["$defs"]
    definitions["Change"] = _change_schema(definitions)
    for definition in definitions.values():
        _allow_own_fields(definition)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": IDENTITY,
        "title": "Site document",
        "description": "Everything known about one facility. Null and absent both mean unknown.",
        "$ref": "#/$defs/Document",
        "$defs": definitions,
    }


def _allow_own_fields(definition: dict[str, Any]) -> None:
    if definition.get("additionalProperties") is False:
        definition["patternProperties"] = {"^x_": {}}


def _change_schema(definitions: dict[str, Any]) -> dict[str, Any]:
    """`of`, `on` and any field of any kind; which kind has which field is checked when a document is read."""
    head = definitions["Change"]["properties"]
    fields: dict[str, list[Any]] = {}
    for row_type in _changeable_types():
        for name, shape in definitions[row_type.__name__]["properties"].items():
            if name not in ("id", "kind", "of", "on") and shape not in fields.setdefault(name, []):
                fields[name].append(shape)
    for name in Residue.__struct_fields__:
        fields[name] = [{"anyOf": [{"type": "number", "minimum": 0}, {"type": "null"}]}]
    merged = {
        name: shapes[0] if len(shapes) == 1 else {"anyOf": shapes} for name, shapes in sorted(fields.items())
    }
    return {
        "title": "Change",
        "description": "From `on`, the other fields hold for the item `of`.",
        "type": "object",
        "properties": {"of": head["of"], "on": head["on"], **merged},
        "required": ["of", "on"],
        "additionalProperties": False,
    }


def _changeable_types() -> list[type[msgspec.Struct]]:
    rows = [row_type for section, row_type in ROW_TYPES.items() if section not in ("components", "overrides")]
    return [Facility, *rows, *get_args(AnyComponent)]

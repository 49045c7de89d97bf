"""Change rows: from a moment on, any field of any item has another value."""

from collections.abc import Mapping
from typing import Any

import msgspec

from compliance.rules.component_rows import Amount, Component, Row
from compliance.rules.document_rows import Change, Facility, MomentText, TankSystem
from compliance.rules.faults import Fault, fault_of

FIXED = ("id", "kind", "time_zone")
"""What an item is and where its days end cannot change; an item of another kind is another item."""


class Head(Row, kw_only=True):
    """The two keys of every change row."""

    of: str
    on: MomentText


class Residue(Row, kw_only=True):
    """Measured residue: the depth in inches, or percent by weight of the capacity (40 CFR 280.70(a))."""

    residue_in: Amount | None = None
    residue_pct: Amount | None = None


def read_change(raw: Any, pointer: str, targets: Mapping[str, tuple[Any, Row]]) -> Change | Fault:
    """Check one row. `targets`: the type and the row behind each id of the document."""
    if not isinstance(raw, dict):
        return Fault(pointer, "an object is expected")
    try:
        head = msgspec.convert({key: raw[key] for key in ("of", "on") if key in raw}, Head)
    except msgspec.ValidationError as error:
        return fault_of(error, pointer)
    if head.of not in targets:
        return Fault(f"{pointer}/of", f"no row of the document has the id {head.of!r}")
    stated = {key: value for key, value in raw.items() if key not in ("of", "on") and value is not None}
    for key in FIXED:
        if key in stated:
            return Fault(f"{pointer}/{key}", "cannot change; describe another item instead")
    row_type, row = targets[head.of]
    try:
        return Change(of=head.of, on=head.on, fields=_checked(stated, row_type, row))
    except msgspec.ValidationError as error:
        return fault_of(error, pointer)


def _checked(stated: dict[str, Any], row_type: Any, row: Row) -> dict[str, Any]:
    """The stated fields in the types of the row they belong to. Raises msgspec.ValidationError."""
    residue = {key: stated[key] for key in Residue.__struct_fields__ if key in stated}
    others = {key: value for key, value in stated.items() if key not in residue}
    if residue and not isinstance(row, Facility | TankSystem | Component):
        raise msgspec.ValidationError(f"Object contains unknown field `{next(iter(residue))}`")
    msgspec.convert(residue, Residue)
    merged = msgspec.convert({**msgspec.to_builtins(row), **others}, row_type)
    return residue | {key: getattr(merged, key) for key in others}

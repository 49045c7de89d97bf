"""Read a site document: one JSON object with everything known about one facility, checked on the way in.

`null` and absent both mean unknown. Keys that begin with `x_` are the writer's own and are left out; every other
unknown key is refused. All faults are reported together, each with the JSON pointer of the place.
"""

from collections.abc import Collection, Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any, Literal, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo

import msgspec

from compliance.rules.component_rows import AnyComponent
from compliance.rules.document_changes import read_change
from compliance.rules.document_references import reference_faults, rows_of
from compliance.rules.document_rows import Change, Document, Facility, MomentText, TankSystem
from compliance.rules.faults import DocumentError, Fault, fault_of
from compliance.rules.moments import EARLIEST_YEAR, LATEST_YEAR, LocalCalendar

__all__ = [
    "COMPONENT_FIELDS",
    "FACILITY_FIELDS",
    "TANK_SYSTEM_FIELDS",
    "Document",
    "DocumentError",
    "Fault",
    "read_document",
]

FACILITY_FIELDS = frozenset(Facility.__struct_fields__)
TANK_SYSTEM_FIELDS = frozenset(TankSystem.__struct_fields__)
COMPONENT_FIELDS: Mapping[str, frozenset[str]] = {
    str(component.__struct_config__.tag): frozenset(component.__struct_fields__) | {"kind"}
    for component in get_args(AnyComponent)
}
"""The fields that each kind of component may state; what else a writer has goes under `x_`."""

_HINTS = get_type_hints(Document, include_extras=True)
ROW_TYPES: dict[str, Any] = {
    section: get_args(hint)[0]
    for section, hint in _HINTS.items()
    if section not in ("version", "facility", "changes")
}
"""The type of the rows of each list."""


def read_document(
    raw: bytes | str | Mapping[str, Any], *, activities: Collection[str] | None = None
) -> Document:
    """The document behind JSON text or an already decoded object (which may hold dates, instants and decimals).

    `activities`: the slugs a record may have; None leaves them unchecked. Raises `DocumentError` with every fault.
    """
    decoded = _decoded(raw)
    faults: list[Fault] = []
    document = _rows(decoded, faults)
    if document is None or faults:
        raise DocumentError(faults)
    faults += reference_faults(document)
    faults += _moment_faults(document)
    faults += _catalogue_faults(document, activities)
    document.changes = _changes(decoded.get("changes") or [], document, faults)
    if faults:
        raise DocumentError(faults)
    return document


def _decoded(raw: bytes | str | Mapping[str, Any]) -> dict[str, Any]:
    if isinstance(raw, bytes | str):
        try:
            raw = msgspec.json.decode(raw)
        except msgspec.DecodeError as error:
            raise DocumentError([Fault("", f"is not JSON: {error}")]) from None
    plain = _plain(raw)
    if not isinstance(plain, dict):
        raise DocumentError([Fault("", "an object is expected")])
    return plain


def _plain(value: Any) -> Any:
    """JSON values only, without null members and without the writer's own `x_` keys."""
    if isinstance(value, Mapping):
        return {
            key: _plain(part)
            for key, part in value.items()
            if part is not None and not str(key).startswith("x_")
        }
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    return float(value) if isinstance(value, Decimal) else value


def _rows(decoded: dict[str, Any], faults: list[Fault]) -> Document | None:
    """Convert row by row, so that one bad row does not hide the others."""
    for key in sorted(set(decoded) - set(_HINTS)):
        faults.append(Fault(f"/{key}", f"no such part; known are {', '.join(_HINTS)}"))
    if decoded.get("version", 1) != 1:
        faults.append(Fault("/version", "only version 1 of the format is known"))
    if "facility" not in decoded:
        faults.append(Fault("/facility", 'is missing; the smallest document is {"facility": {}}'))
        return None
    facility = _converted(decoded["facility"], Facility, "/facility", faults)
    lists: dict[str, Any] = {section: _section(decoded, section, faults) for section in ROW_TYPES}
    return None if facility is None else Document(facility=facility, **lists)


def _section(decoded: dict[str, Any], section: str, faults: list[Fault]) -> list[Any]:
    rows = decoded.get(section, [])
    if not isinstance(rows, list):
        faults.append(Fault(f"/{section}", "a list is expected"))
        return []
    read = (
        _converted(row, ROW_TYPES[section], f"/{section}/{index}", faults) for index, row in enumerate(rows)
    )
    return [row for row in read if row is not None]


def _converted(raw: Any, row_type: Any, pointer: str, faults: list[Fault]) -> Any:
    try:
        return msgspec.convert(raw, row_type)
    except msgspec.ValidationError as error:
        fault = fault_of(error, pointer)
        if fault.detail.startswith("Invalid"):
            field = fault.pointer.removeprefix(pointer).split("/")[1]
            allowed = ", ".join(_allowed_values(row_type, raw, field))
            fault = Fault(fault.pointer, f"{fault.detail}; one of {allowed} is expected")
        faults.append(fault)
        return None


def _allowed_values(row_type: Any, raw: Any, field: str) -> list[str]:
    """The values that a field of this row may have."""
    if field == "kind":
        return sorted(COMPONENT_FIELDS)
    kinds = {str(one.__struct_config__.tag): one for one in get_args(row_type)}
    hint = get_type_hints(kinds.get(raw.get("kind"), row_type)).get(field)
    return [
        str(value)
        for part in (hint, *_parts(hint))
        if get_origin(part) is Literal
        for value in get_args(part)
    ]


def _changes(raw: Any, document: Document, faults: list[Fault]) -> list[Change]:
    targets: dict[str, tuple[Any, Any]] = {document.facility.id or "facility": (Facility, document.facility)}
    for section, _, row in rows_of(document):
        if identity := getattr(row, "id", None):
            targets[identity] = (ROW_TYPES[section], row)
    if not isinstance(raw, list):
        faults.append(Fault("/changes", "a list is expected"))
        return []
    changes = []
    for index, entry in enumerate(raw):
        change = read_change(entry, f"/changes/{index}", targets)
        if isinstance(change, Fault):
            faults.append(change)
            continue
        changes.append(change)
        faults += _faults_of_moments(change, f"/changes/{index}")
        _, row = targets[change.of]
        faults += _faults_of_moments(msgspec.structs.replace(row, **_own(change)), f"/changes/{index}")
    return changes


def _own(change: Change) -> dict[str, Any]:
    """The changed fields without the residue, which only change rows have."""
    return {key: value for key, value in change.fields.items() if not key.startswith("residue_")}


def _moment_faults(document: Document) -> Iterator[Fault]:
    """Days that no calendar has, and a time zone that nobody knows."""
    zone = document.facility.time_zone or "UTC"
    try:
        ZoneInfo(zone)
    except (ValueError, OSError, KeyError):
        yield Fault("/facility/time_zone", f"{zone!r} is no IANA time zone name, such as America/New_York")
    yield from _faults_of_moments(document.facility, "/facility")
    for section, index, row in rows_of(document):
        yield from _faults_of_moments(row, f"/{section}/{index}")


_ANY_ZONE = LocalCalendar(ZoneInfo("UTC"))


def _faults_of_moments(value: Any, pointer: str) -> Iterator[Fault]:
    if isinstance(value, msgspec.Struct):
        texts = moment_fields(type(value))
        for field in value.__struct_fields__:
            inner = getattr(value, field)
            if field in texts and isinstance(inner, str):
                yield from _unreadable(inner, f"{pointer}/{field}")
            elif inner is not None:
                yield from _faults_of_moments(inner, f"{pointer}/{field}")
    elif isinstance(value, list):
        for index, part in enumerate(value):
            yield from _faults_of_moments(part, f"{pointer}/{index}")
    elif isinstance(value, date) and not EARLIEST_YEAR <= value.year <= LATEST_YEAR:
        yield Fault(pointer, f"the year of {value} is outside {EARLIEST_YEAR} to {LATEST_YEAR}")


def _unreadable(text: str, pointer: str) -> Iterator[Fault]:
    try:
        _ANY_ZONE.read(text)
    except ValueError as error:
        yield Fault(pointer, f"{text!r} is no moment: {error}")


@cache
def moment_fields(row_type: type[msgspec.Struct]) -> frozenset[str]:
    """The fields of a row that hold a moment, or a list of moments, as text."""
    hints = get_type_hints(row_type, include_extras=True)
    return frozenset(name for name, hint in hints.items() if hint == MomentText or MomentText in _parts(hint))


def _parts(hint: Any) -> tuple[Any, ...]:
    inner = get_args(hint)
    return inner + tuple(part for outer in inner for part in get_args(outer))


def _catalogue_faults(document: Document, activities: Collection[str] | None) -> Iterator[Fault]:
    """Slugs that no catalogue has: a mistyped activity would never count."""
    for index, record in enumerate(document.records):
        if activities is not None and record.activity not in activities:
            yield Fault(f"/records/{index}/activity", f"no activity is called {record.activity!r}")

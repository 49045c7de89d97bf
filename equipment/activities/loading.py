"""Reads the catalogue files beside this module and refuses a faulty one, naming file, activity and key."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from equipment.activities.definitions import (
    CHOICES,
    COMPONENT_KINDS,
    NUMBERS,
    SUBJECTS,
    Activity,
    Caution,
    Measurement,
    MeasurementType,
)
from equipment.activities.units import UNITLESS, UNITS, suffix_of, unit_of

CAUTIONS_FILE = "cautions.toml"
CHECKLIST_FILE = "checklist.toml"
LIMITS_FILE = "limits.toml"
ANY_COMPONENT = "any component"
NOT_USED = "not used"

T = TypeVar("T")


class CatalogueError(ValueError):
    """A catalogue file is wrong. The message says where and what to do."""


class MeasurementRow(msgspec.Struct, forbid_unknown_fields=True):
    """A measurement as written in a file; its name is the key of the table."""

    type: MeasurementType
    description: str
    unit: str | None = None
    min: float | None = None
    max: float | None = None
    choices: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    required: bool = False
    fields: dict[str, Any] = {}


class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The outermost numbers of a unit, inclusive, and why nothing lies beyond them."""

    min: float
    max: float
    reason: str
    source: str


class ActivityRow(msgspec.Struct, forbid_unknown_fields=True):
    """An activity as written in a file. Either `passes_when`, or `outcome = "not used"`."""

    slug: str
    title: str
    cite: str
    subjects: list[str]
    cautions: list[str]
    passes_when: str | None = None
    outcome: str | None = None
    measurements: dict[str, Any] = {}
    example: dict[str, Any] = {}


def load_catalogue(folder: Path) -> dict[str, Activity]:
    """Every activity of the folder's family files by slug, files in alphabetical order."""
    cautions, limits = load_cautions(folder / CAUTIONS_FILE), load_limits(folder / LIMITS_FILE)
    found: dict[str, Activity] = {}
    for path in sorted(folder.glob("*.toml")):
        if path.name in (CAUTIONS_FILE, CHECKLIST_FILE, LIMITS_FILE):
            continue
        for activity in _activities(path, cautions, limits):
            if activity.slug in found:
                raise CatalogueError(
                    f"{path}: activity {activity.slug!r} is also in {found[activity.slug].family}.toml; "
                    "a slug names one activity, so rename or remove one of them"
                )
            found[activity.slug] = activity
    if not found:
        raise CatalogueError(f"{folder}: no activity found; the catalogue's .toml files belong here")
    return found


def load_cautions(path: Path) -> dict[str, Caution]:
    """The safety sentences by name."""
    return {name: convert(row, Caution, f"{path}: {name}") for name, row in read_toml(path).items()}


def load_limits(path: Path) -> dict[str, Limits]:
    """The outermost numbers by unit, as names abbreviate it; none where a folder has no such file."""
    if not path.exists():
        return {}
    found = {unit: convert(row, Limits, f"{path}: {unit}") for unit, row in read_toml(path).items()}
    for unit, limits in found.items():
        if (
            unit not in UNITS
            or limits.min >= limits.max
            or not limits.reason.strip()
            or not limits.source.strip()
        ):
            raise CatalogueError(f"{path}: {unit}: a unit of the catalogue, min under max, reason and source")
    return found


def read_toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CatalogueError(f"{path}: cannot be read as TOML: {error}") from error


def convert(row: object, shape: type[T], where: str) -> T:
    try:
        return msgspec.convert(row, shape)
    except msgspec.ValidationError as error:
        raise CatalogueError(f"{where}: {error}") from error


def rows_of(path: Path, key: str) -> list[Any]:
    """The one array of tables that a file holds, e.g. `[[activity]]`."""
    content = read_toml(path)
    rows = content.pop(key, None)
    if content or not isinstance(rows, list):
        raise CatalogueError(
            f"{path}: holds only [[{key}]] tables; found also: {', '.join(content) or 'none'}"
        )
    return rows


def pick_cautions(names: Iterable[str], known: Mapping[str, Caution], where: str) -> tuple[Caution, ...]:
    names = tuple(names)
    unknown = [name for name in names if name not in known]
    if unknown or not names:
        raise CatalogueError(
            f"{where}: cautions = {list(names)}: name at least one; known: {', '.join(sorted(known))}"
        )
    return tuple(known[name] for name in names)


def _activities(
    path: Path, cautions: Mapping[str, Caution], limits: Mapping[str, Limits]
) -> Iterator[Activity]:
    for position, raw in enumerate(rows_of(path, "activity")):
        name = raw.get("slug", f"number {position + 1}") if isinstance(raw, dict) else position + 1
        where = f"{path}: activity {name}"
        row = convert(raw, ActivityRow, where)
        yield Activity(
            slug=row.slug,
            title=_stated(row.title, "title", where),
            family=path.stem,
            cite=_stated(row.cite, "cite", where),
            subjects=_subjects(row.subjects, where),
            passes_when=_passes_when(row, where),
            cautions=pick_cautions(row.cautions, cautions, where),
            measurements=_measurements(row.measurements, where, limits),
            example=row.example,
        )


def _stated(text: str, key: str, where: str) -> str:
    if not text.strip():
        raise CatalogueError(f"{where}: {key} is empty; state it")
    return text


def _subjects(written: list[str], where: str) -> tuple[str, ...]:
    subjects: list[str] = []
    for subject in written:
        subjects.extend(COMPONENT_KINDS if subject == ANY_COMPONENT else [subject])
    unknown = [subject for subject in subjects if subject not in SUBJECTS]
    if unknown or not subjects:
        raise CatalogueError(
            f"{where}: subjects = {written}: name at least one of {', '.join(SUBJECTS)}, or {ANY_COMPONENT!r}"
        )
    return tuple(dict.fromkeys(subjects))


def _passes_when(row: ActivityRow, where: str) -> str | None:
    if row.outcome not in (None, NOT_USED) or (row.outcome is None) == (row.passes_when is None):
        raise CatalogueError(
            f'{where}: write either passes_when = "..." (what a pass means) or outcome = "{NOT_USED}"'
        )
    return row.passes_when


def _measurements(
    table: Mapping[str, Any], where: str, limits: Mapping[str, Limits]
) -> tuple[Measurement, ...]:
    return tuple(
        _measurement(name, raw, f"{where}: measurement {name}", limits) for name, raw in table.items()
    )


def _measurement(name: str, raw: object, where: str, limits: Mapping[str, Limits]) -> Measurement:
    row = convert(raw, MeasurementRow, where)
    if not name.isidentifier() or name != name.lower() or name.startswith("x_"):
        raise CatalogueError(f"{where}: a name is lower case words joined by _, and x_ is left to the sender")
    _check_kind(row, where)
    outermost = limits.get(suffix_of(name) or "") if row.type in NUMBERS else None
    return Measurement(
        name=name,
        type=row.type,
        description=_stated(row.description, "description", where),
        unit=_unit(name, row, where),
        min=row.min if row.min is not None or outermost is None else outermost.min,
        max=row.max if row.max is not None or outermost is None else outermost.max,
        beyond=outermost.reason if outermost is not None else "",
        choices=row.choices,
        words=row.words,
        required=row.required,
        fields=_measurements(row.fields, where, limits),
    )


def _check_kind(row: MeasurementRow, where: str) -> None:
    """Choices, words, bounds and columns stand exactly where the type gives them a meaning."""
    if bool(row.choices) != (row.type in CHOICES) or len(set(row.choices)) != len(row.choices):
        raise CatalogueError(f"{where}: choice and list-of-choice need different choices, other types none")
    if row.words and row.type != "text":
        raise CatalogueError(f"{where}: words belong to a text")
    if bool(row.fields) != (row.type == "rows"):
        raise CatalogueError(f"{where}: rows need fields, other types have none")
    if row.type not in NUMBERS and (row.min, row.max) != (None, None):
        raise CatalogueError(f"{where}: min and max belong to a number")
    if row.min is not None and row.max is not None and row.min > row.max:
        raise CatalogueError(f"{where}: min {row.min} is above max {row.max}; exchange them")
    if any(field.get("type") == "rows" for field in row.fields.values() if isinstance(field, dict)):
        raise CatalogueError(f"{where}: rows inside rows are not supported; flatten them")


def _unit(name: str, row: MeasurementRow, where: str) -> str | None:
    """A number's unit is read from its name, so that name and unit can never disagree."""
    if row.type not in NUMBERS:
        if row.unit is not None:
            raise CatalogueError(f"{where}: only a number has a unit")
        return None
    from_name = unit_of(name)
    if (from_name is None) == (row.unit is None) or not (row.unit is None or row.unit in UNITLESS):
        raise CatalogueError(
            f'{where}: end the name in its unit (..._gal, ..._psi) or write unit = "count" or "ratio"'
        )
    return from_name or row.unit

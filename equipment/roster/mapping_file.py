"""Reads a mapping file, and says file, line and mend for whatever is wrong in it."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from equipment.roster.elements import Element
from equipment.roster.mapping import RosterMapping, complaints

SHIPPED = Path(__file__).parent / "mappings"
_STEP = re.compile(r"\.?([A-Za-z0-9_-]+)|\[(\d+|\.\.\.)\]")


class MappingError(ValueError):
    """The mapping cannot be used. One line a fault: file, line, key, what to do."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = tuple(faults)


def shipped_mappings() -> dict[str, Path]:
    """Mappings that come with the project, by name."""
    return {path.stem: path for path in sorted(SHIPPED.glob("*.toml"))}


def read_mapping(
    content: bytes,
    *,
    name: str,
    elements: Mapping[str, Element],
    constants: Mapping[str, Mapping[str, Any]] | None = None,
) -> RosterMapping:
    """The mapping, checked against the elements; `constants` of the caller go before those of the file.

    `MappingError` with every fault of its content, or with the first one of its form.
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise MappingError([f"{name}:{line}: is not UTF-8; save it as UTF-8"]) from error
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else text.count("\n") + 1
        raise MappingError([f"{name}:{line}: is not valid TOML: {error}"]) from error
    try:
        mapping = msgspec.convert(table, RosterMapping)
    except msgspec.ValidationError as error:
        raise MappingError([_form_fault(name, text, str(error))]) from error
    for part, fields in (constants or {}).items():
        merged = {**mapping.constants, part: {**mapping.constants.get(part, {}), **fields}}
        mapping = msgspec.structs.replace(mapping, constants=merged)
    faults = [
        f"{name}:{line_of(text, path)}: {_spoken(path)}: {detail}"
        for path, detail in complaints(mapping, elements)
    ]
    if faults:
        raise MappingError(faults)
    return mapping


def _form_fault(name: str, text: str, message: str) -> str:
    """msgspec's "Object contains unknown field `x` - at `$.column[2]`", with the line that it means."""
    detail, _, at = message.partition(" - at `")
    path: list[str | int] = [
        int(number) if number.isdigit() else key
        for key, number in _STEP.findall(at.rstrip("`").removeprefix("$"))
        if key or number.isdigit()
    ]
    unknown = re.search(r"unknown field `([^`]+)`", detail)
    if unknown:
        path.append(unknown[1])
        detail = "no such key; see the comments of a shipped mapping for those that exist"
    return f"{name}:{line_of(text, path)}: {_spoken(path)}: {detail}"


def line_of(text: str, path: Sequence[str | int]) -> int:
    """The line on which the last key of the path is written out; that of the nearest table when it is not."""
    lines = text.splitlines()
    at, tables = 0, 0
    names = [step for step in path if isinstance(step, str)]
    nth = next((step for step in path if isinstance(step, int)), None)
    if nth is not None:
        heads = [number for number, line in enumerate(lines) if line.strip().startswith(f"[[{names[0]}]]")]
        at, tables = (heads[nth], 1) if nth < len(heads) else (0, 0)
    else:
        for depth in range(len(names), 0, -1):
            head = f"[{'.'.join(names[:depth])}]"
            found = [n for n, line in enumerate(lines) if line.strip().startswith((head, f"{head[:-1]}."))]
            if found:
                at, tables = found[0], depth
                break
    for key in names[tables:]:
        at = _key_line(lines, at, key)
    return at + 1


def _key_line(lines: Sequence[str], start: int, key: str) -> int:
    """The first line from `start` on that writes the key, within the table; `start` when none does."""
    written = re.compile(rf"""(^|[\s{{,.])["']?{re.escape(key)}["']?\s*[=.]""")
    for number in range(start, len(lines)):
        if number > start and lines[number].startswith("["):
            break
        if written.search(lines[number]):
            return number
    return start


def _spoken(path: Sequence[str | int]) -> str:
    return ".".join(f"{step + 1}" if isinstance(step, int) else step for step in path) or "mapping"

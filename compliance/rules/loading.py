"""Read rule packs from folders of TOML files; refuse what is not exactly right and say where and how to mend it."""

import hashlib
import re
import tomllib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import msgspec

from compliance.rules.compiling import GrammarError
from compliance.rules.packset import OverrideEntry, PackSet, RuleEntry
from compliance.rules.tables import OverrideTable, PackTable, RuleTable, key_and_detail
from compliance.rules.vocabulary import unknown_names


@dataclass(frozen=True, order=True)
class PackFault:
    """What is wrong in a pack: the file, the line (0 if unknown), the path of keys, and what was expected."""

    file: str
    line: int
    key: str
    detail: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.key}: {self.detail}"


class PackError(ValueError):
    """The packs cannot be used. `faults` lists everything that was found."""

    def __init__(self, faults: Iterable[PackFault]) -> None:
        self.faults = sorted(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True)
class PackFile:
    """One file: its name as people should see it, its text and its tables."""

    name: str
    text: str
    table: PackTable

    def fault(self, head: str, identity: str, key: str, detail: str, *, occurrence: int = 0) -> PackFault:
        """A fault in the `[[head]]` table with this identity; the line is looked for only now, when it is wanted."""
        line = self._line(head, identity, key, occurrence)
        return PackFault(self.name, line, f"{head} {identity}: {key}", detail)

    def _line(self, head: str, identity: str, key: str, occurrence: int) -> int:
        """The line of the innermost key that is written out, searched downwards from the identity."""
        lines = self.text.splitlines()
        at = -1
        for _ in range(occurrence + 1):
            at = _find(lines, at + 1, f'{"rule" if head == "override" else "id"} = "{identity}"') or at
        for name, index in _KEY.findall(key):
            if name == "version":
                for _ in range(int(index or 0) + 1):
                    at = _find(lines, at + 1, "[[rule.version]]", stop="[[rule]]") or at
            else:
                at = _find(lines, at, name, stop=f"[[{head}]]") or at
        return at + 1


_KEY = re.compile(r"([a-z_]+)(?:\[(\d+)\])?")


def _find(lines: list[str], start: int, needle: str, stop: str | None = None) -> int | None:
    """The first line from `start` on that holds the needle, not beyond a line `stop`."""
    for number in range(max(start, 0), len(lines)):
        if stop is not None and lines[number].startswith(stop):
            return None
        if needle in lines[number]:
            return number
    return None


def load_packs(
    folders: Iterable[Path], *, activities: Mapping[str, Collection[str]] | None = None
) -> PackSet:
    """Read every `*.toml` of the folders as one set of packs.

    `activities`: those that evidence may name, each with the names of its measurements; None leaves both unchecked.
    Raises `PackError` with every fault.
    """
    paths = sorted(path for folder in folders for path in folder.glob("*.toml"))
    faults: list[PackFault] = []
    digest = hashlib.sha256()
    files = []
    for path in paths:
        content = path.read_bytes()
        digest.update(f"{path.parent.name}/{path.name}\0{len(content)}\0".encode() + content)
        file = _read_file(f"{path.parent.name}/{path.name}", content, faults)
        files += [] if file is None else [file]
    rules = list(_rules(files, faults))
    overrides = list(_overrides(files, faults))
    holidays = {
        pack: frozenset(table.holidays) for file in files for pack, table in file.table.calendar.items()
    }
    packs = PackSet(
        rules=tuple(entry for _, entry in rules),
        overrides=tuple(entry for _, entry in overrides),
        named=_named_conditions(files, faults),
        holidays=holidays,
        digest=digest.hexdigest(),
    )
    faults += _duplicates(rules)
    faults += _faults_of_rules(packs, rules, activities)
    faults += _faults_of_overrides(packs, overrides, {entry.table.id for _, entry in rules}, activities)
    if faults:
        raise PackError(faults)
    return packs


def _read_file(name: str, content: bytes, faults: list[PackFault]) -> PackFile | None:
    text = content.decode("utf-8", errors="replace")
    try:
        return PackFile(name, text, msgspec.convert(tomllib.loads(text), PackTable))
    except tomllib.TOMLDecodeError as error:
        faults.append(PackFault(name, line_of(error), "file", f"is not valid TOML: {error}"))
    except msgspec.ValidationError as error:
        faults.append(PackFault(name, 1, *key_and_detail(error)))
    return None


def line_of(error: tomllib.TOMLDecodeError) -> int:
    """Where the reader of TOML stopped; 0 if it does not say."""
    return int(str(error).rpartition("line ")[2].split(",")[0]) if "line " in str(error) else 0


def _rules(files: list[PackFile], faults: list[PackFault]) -> Iterator[tuple[PackFile, RuleEntry]]:
    for file in files:
        for raw in file.table.rule:
            identity = str(raw.get("id", "without id"))
            try:
                table = msgspec.convert(raw, RuleTable)
            except msgspec.ValidationError as error:
                faults.append(file.fault("rule", identity, *key_and_detail(error)))
                continue
            pack = table.pack or file.table.pack
            if pack is None:
                faults.append(
                    file.fault("rule", identity, "pack", "name the pack here or at the head of the file")
                )
                continue
            yield file, RuleEntry(table, pack)


def _overrides(files: list[PackFile], faults: list[PackFault]) -> Iterator[tuple[PackFile, OverrideEntry]]:
    for file in files:
        for raw in file.table.override:
            identity = str(raw.get("rule", "without rule"))
            try:
                table = msgspec.convert(raw, OverrideTable)
            except msgspec.ValidationError as error:
                faults.append(file.fault("override", identity, *key_and_detail(error)))
                continue
            pack = table.pack or file.table.pack
            if pack is None:
                faults.append(
                    file.fault("override", identity, "pack", "name the pack here or at the head of the file")
                )
                continue
            yield file, OverrideEntry(table, pack)


def _named_conditions(files: list[PackFile], faults: list[PackFault]) -> dict[str, object]:
    named: dict[str, object] = {}
    for file in files:
        for name, condition in file.table.conditions.items():
            if name in named and named[name] != condition:
                line = (_find(file.text.splitlines(), 0, f"{name} =") or 0) + 1
                detail = "another file means something else by this name; choose a name of its own"
                faults.append(PackFault(file.name, line, f"conditions.{name}", detail))
            named[name] = condition
    return named


def _duplicates(rules: list[tuple[PackFile, RuleEntry]]) -> Iterator[PackFault]:
    seen: dict[str, list[str]] = defaultdict(list)
    for file, entry in rules:
        names = seen[entry.table.id]
        if names:
            detail = f"a rule of this id stands in {names[0]} already; ids are unique over all packs"
            yield file.fault("rule", entry.table.id, "id", detail, occurrence=names.count(file.name))
        names.append(file.name)


def _faults_of_rules(
    packs: PackSet, rules: list[tuple[PackFile, RuleEntry]], activities: Mapping[str, Collection[str]] | None
) -> Iterator[PackFault]:
    for file, entry in rules:
        try:
            packs.check_rule(entry)
            for key, detail in unknown_names(packs.compiled(entry), activities):
                yield file.fault("rule", entry.table.id, key, detail)
        except GrammarError as error:
            yield file.fault("rule", entry.table.id, error.key, error.detail)


def _faults_of_overrides(
    packs: PackSet,
    overrides: list[tuple[PackFile, OverrideEntry]],
    known: set[str],
    activities: Mapping[str, Collection[str]] | None,
) -> Iterator[PackFault]:
    for file, entry in overrides:
        identity = entry.table.rule
        if identity not in known:
            yield file.fault(
                "override", identity, "rule", "no rule has this id; correct it or load its pack as well"
            )
            continue
        try:
            compiled = packs.compiled(packs.entry(identity), overrides=(entry.table,))
            for key, detail in unknown_names(compiled, activities):
                yield file.fault("override", identity, key, detail)
        except GrammarError as error:
            yield file.fault("override", identity, error.key, error.detail)


__all__ = ["PackError", "PackFault", "PackSet", "load_packs"]

"""Read rule packs from folders of TOML files; refuse what is not exactly right and say where and how to mend it."""

import hashlib
import tomllib
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import msgspec

from compliance.rules.compiling import GrammarError
from compliance.rules.packset import OverrideEntry, PackSet, RuleEntry
from compliance.rules.tables import OverrideTable, PackTable, RuleTable
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

    def fault(self, head: str, identity: str, key: str, detail: str) -> PackFault:
        """A fault in the `[[head]]` table whose identity line is given; the line is looked for only now."""
        return PackFault(self.name, self._line(head, identity, key), f"{head} {identity}: {key}", detail)

    def _line(self, head: str, identity: str, key: str) -> int:
        """The line of the last of the keys that is written out, searched downwards from the identity."""
        lines = self.text.splitlines()
        name = "rule" if head == "override" else "id"
        at = _find(lines, 0, f'{name} = "{identity}"')
        for part in key.replace("]", "").replace(".", " ").replace("[", " ").split():
            if part.isdigit():
                continue
            at = _find(lines, at, part, stop=f"[[{head}]]")
        return at + 1


def _find(lines: list[str], start: int, needle: str, stop: str | None = None) -> int:
    """The first line from `start` on that holds the needle, not beyond a line `stop`; `start` if there is none."""
    for number in range(start, len(lines)):
        if stop is not None and number > start and lines[number].startswith(stop):
            break
        if needle in lines[number]:
            return number
    return start


def load_packs(folders: Iterable[Path], *, activities: Collection[str] | None = None) -> PackSet:
    """Read every `*.toml` of the folders as one set of packs.

    `activities`: the slugs that evidence may name; None leaves them unchecked. Raises `PackError` with every fault.
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
        line = int(str(error).rpartition("line ")[2].split(",")[0]) if "line " in str(error) else 0
        faults.append(PackFault(name, line, "file", f"is not valid TOML: {error}"))
    except msgspec.ValidationError as error:
        faults.append(PackFault(name, 1, *key_and_detail(error)))
    return None


def key_and_detail(error: msgspec.ValidationError) -> tuple[str, str]:
    """Split "expected x - at `$.a[0].b`" into the path of keys and the complaint."""
    detail, _, at = str(error).partition(" - at `")
    return at.rstrip("`").removeprefix("$").removeprefix(".") or "table", detail


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
                line = _find(file.text.splitlines(), 0, f"{name} =") + 1
                detail = "another file means something else by this name; choose a name of its own"
                faults.append(PackFault(file.name, line, f"conditions.{name}", detail))
            named[name] = condition
    return named


def _duplicates(rules: list[tuple[PackFile, RuleEntry]]) -> Iterator[PackFault]:
    first_in: dict[str, str] = {}
    for file, entry in rules:
        if entry.table.id in first_in:
            detail = f"a rule of this id stands in {first_in[entry.table.id]} already; ids are unique over all packs"
            yield file.fault("rule", entry.table.id, "id", detail)
        first_in.setdefault(entry.table.id, file.name)


def _faults_of_rules(
    packs: PackSet, rules: list[tuple[PackFile, RuleEntry]], activities: Collection[str] | None
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
    activities: Collection[str] | None,
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

"""Is every duty that a law lists judged by a rule, or explained? Holds a pack against the list beside its folder.

Beside a folder `NAME/` of a pack may stand `NAME_duties.toml`, the law's duties and retention periods by slug, and
`NAME_not_judged.toml`, the duties that no machine can judge, each with its paragraph and its reason.
"""

import tomllib
from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import msgspec

from compliance.rules.loading import PackError, PackFault, line_of
from compliance.rules.packset import PackSet
from compliance.rules.tables import Slug, Table, Words, key_and_detail

Shape = TypeVar("Shape")

LIST_ENDING, REASONS_ENDING = "_duties.toml", "_not_judged.toml"


class DutyList(Table, kw_only=True):
    """Slugs, each with how its wording was verified."""

    pack: Slug
    duties: dict[Slug, Words]
    retention: dict[Slug, Words] = {}

    @property
    def slugs(self) -> dict[str, str]:
        return self.duties | self.retention


class NotJudged(Table, kw_only=True):
    id: Slug
    cite: Words
    reason: Words


class Reasons(Table, kw_only=True):
    not_judged: list[NotJudged] = []


@dataclass(frozen=True)
class Coverage:
    """What became of each slug of a list. `beyond`: rules of the pack that the list does not name."""

    pack: str
    listed: DutyList
    judged: frozenset[str]
    reasons: tuple[NotJudged, ...]
    beyond: tuple[str, ...]

    @property
    def accounted_for(self) -> int:
        return len(self.judged) + len(self.reasons)


def coverage_of(folder: Path, packs: PackSet) -> list[Coverage]:
    """One for each list of duties in the folder. Raises `PackError` with every slug that is left open."""
    faults: list[PackFault] = []
    found = [_held_against(path, packs, faults) for path in sorted(folder.glob(f"*{LIST_ENDING}"))]
    if faults:
        raise PackError(faults)
    return [coverage for coverage in found if coverage is not None]


def _held_against(path: Path, packs: PackSet, faults: list[PackFault]) -> Coverage | None:
    reasons_path = path.with_name(path.name.removesuffix(LIST_ENDING) + REASONS_ENDING)
    listed = _read(path, DutyList, faults)
    reasons = _read(reasons_path, Reasons, faults) if reasons_path.exists() else Reasons()
    if listed is None or reasons is None:
        return None
    rules = {entry.table.id for entry in packs.rules if entry.pack == listed.pack}
    faults += _open_slugs(path, reasons_path, listed, reasons, rules)
    faults += _wrong_reasons(reasons_path, listed, reasons, rules)
    return Coverage(
        pack=listed.pack,
        listed=listed,
        judged=frozenset(rules & listed.slugs.keys()),
        reasons=tuple(reasons.not_judged),
        beyond=tuple(sorted(rules - listed.slugs.keys())),
    )


def _open_slugs(
    path: Path, reasons_path: Path, listed: DutyList, reasons: Reasons, rules: Collection[str]
) -> Iterator[PackFault]:
    explained = {row.id for row in reasons.not_judged}
    for slug in listed.duties.keys() & listed.retention.keys():
        yield PackFault(path.name, _line(path, f"{slug} ="), slug, "stands in both lists; keep one")
    for slug in listed.slugs:
        if slug not in rules and slug not in explained:
            detail = (
                f"no rule of the pack {listed.pack} has this id and {reasons_path.name} gives no reason; "
                "write the rule, or say there why it cannot be judged"
            )
            yield PackFault(path.name, _line(path, f"{slug} ="), slug, detail)


def _wrong_reasons(
    path: Path, listed: DutyList, reasons: Reasons, rules: Collection[str]
) -> Iterator[PackFault]:
    times = Counter(row.id for row in reasons.not_judged)
    for slug, count in times.items():
        line = _line(path, f'id = "{slug}"')
        if slug in rules:
            detail = "a rule of the pack judges this duty; remove this reason, or the rule"
            yield PackFault(path.name, line, slug, detail)
        if slug not in listed.slugs:
            detail = f"the list of duties of {listed.pack} has no such slug; correct it or add it there"
            yield PackFault(path.name, line, slug, detail)
        if count > 1:
            yield PackFault(path.name, line, slug, f"stands here {count} times; keep one")


def _read(path: Path, shape: type[Shape], faults: list[PackFault]) -> Shape | None:
    text = path.read_text(encoding="utf-8")
    try:
        return msgspec.convert(tomllib.loads(text), shape)
    except tomllib.TOMLDecodeError as error:
        faults.append(PackFault(path.name, line_of(error), "file", f"is not valid TOML: {error}"))
    except msgspec.ValidationError as error:
        faults.append(PackFault(path.name, 1, *key_and_detail(error)))
    return None


def _line(path: Path, start: str) -> int:
    """The line that begins with these words; 0 if none does."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return next((number for number, line in enumerate(lines, start=1) if line.startswith(start)), 0)

"""The items of a walkthrough: what to look at on each kind of component, and what is acceptable.

Federal duties (40 CFR 280.36) stand beside the operator's own items, each marked with its area, so that a
walkthrough record can say which areas it covered and nobody takes good practice for law.
"""

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Literal

import msgspec

from equipment.activities.catalogue import FOLDER
from equipment.activities.definitions import SUBJECTS, Caution
from equipment.activities.loading import (
    CAUTIONS_FILE,
    CHECKLIST_FILE,
    CatalogueError,
    convert,
    load_cautions,
    pick_cautions,
    rows_of,
)

Area = Literal["spill", "release detection", "sumps", "handheld", "operator's own"]
Frequency = Literal["30 days", "annual", "operator's own"]


class Item(msgspec.Struct, frozen=True, kw_only=True):
    """One question of a walkthrough, about one component (or the facility) of `kind`."""

    slug: str
    kind: str
    question: str
    acceptable: str
    area: Area
    frequency: Frequency
    cautions: tuple[Caution, ...]
    source: str

    @property
    def caution(self) -> str:
        return " ".join(caution.text for caution in self.cautions)


class ItemRow(msgspec.Struct, forbid_unknown_fields=True):
    """An item as written in the file."""

    slug: str
    kind: str
    question: str
    acceptable: str
    area: Area
    frequency: Frequency
    cautions: list[str]
    source: str


def checklist_for(kinds: Iterable[str]) -> list[Item]:
    """The items that hang on these kinds (component kinds, `facility`), in the order of the file.

    A kind that has no item adds nothing; a word that is no kind raises ValueError.
    """
    wanted = set(kinds)
    if unknown := sorted(wanted.difference(SUBJECTS)):
        raise ValueError(f"no such kind: {', '.join(unknown)}; known: {', '.join(SUBJECTS)}")
    return [item for item in _items() if item.kind in wanted]


def load_checklist(path: Path, cautions_path: Path) -> tuple[Item, ...]:
    """Every item of the file; CatalogueError names file, item and key."""
    cautions = load_cautions(cautions_path)
    items: dict[str, Item] = {}
    for position, raw in enumerate(rows_of(path, "item")):
        name = raw.get("slug", f"number {position + 1}") if isinstance(raw, dict) else position + 1
        where = f"{path}: item {name}"
        row = convert(raw, ItemRow, where)
        if row.slug in items:
            raise CatalogueError(f"{where}: the slug is used twice; rename one of the items")
        if row.kind not in SUBJECTS:
            raise CatalogueError(f"{where}: kind = {row.kind!r}; known: {', '.join(SUBJECTS)}")
        if not row.source.strip():
            raise CatalogueError(f"{where}: source is empty; cite it or write 'common practice, no source'")
        picked = {"cautions": pick_cautions(row.cautions, cautions, where)}
        items[row.slug] = Item(**{**msgspec.structs.asdict(row), **picked})
    return tuple(items.values())


@cache
def _items() -> tuple[Item, ...]:
    return load_checklist(FOLDER / CHECKLIST_FILE, FOLDER / CAUTIONS_FILE)

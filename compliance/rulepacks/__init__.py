"""The rule packs that come with the service: one folder of TOML files each."""

import hashlib
from collections.abc import Collection, Mapping
from functools import cache
from pathlib import Path

from compliance.protocols.wording import protocols_digest
from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet
from equipment.activities import catalogue

HERE = Path(__file__).parent


@cache
def installed_packs() -> PackSet:
    """Every pack in this folder, read once a process. Raises `PackError`."""
    return load_folder(None)


@cache
def law_digest() -> str:
    """Changes whenever any pack or any test protocol does: a judgement made under another digest is stale."""
    return hashlib.sha256(f"{installed_packs().digest} {protocols_digest()}".encode()).hexdigest()


def load_folder(folder: Path | None) -> PackSet:
    """Every pack in the folders below a folder (None: the installed ones), read afresh.

    A folder without such folders, but with TOML files of its own, is one pack. Raises `PackError`.
    """
    place = folder or HERE
    folders = sorted(path for path in place.iterdir() if path.is_dir() and any(path.glob("*.toml")))
    return load_packs(folders or [place], activities=recordable())


@cache
def recordable() -> Mapping[str, Collection[str]]:
    """The activities that evidence may name, each with the names of what may be measured in it."""
    return {slug: frozenset(activity.by_name) for slug, activity in catalogue.catalogue().items()}

"""The rule packs that come with the service: one folder of TOML files each."""

from functools import cache
from pathlib import Path

from compliance.rules.loading import load_packs
from compliance.rules.packset import PackSet
from equipment import activities

HERE = Path(__file__).parent


@cache
def installed_packs() -> PackSet:
    """Every pack in this folder, read once a process. Raises `PackError`."""
    folders = sorted(path for path in HERE.iterdir() if any(path.glob("*.toml")))
    return load_packs(folders, activities=activities.slugs())

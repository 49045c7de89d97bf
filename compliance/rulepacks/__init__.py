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
    return load_folder(None)


def load_folder(folder: Path | None) -> PackSet:
    """Every pack in the folders below a folder (None: the installed ones), read afresh. Raises `PackError`."""
    folders = sorted(path for path in (folder or HERE).iterdir() if path.is_dir())
    return load_packs(folders, activities=activities.slugs())

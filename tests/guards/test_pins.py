"""Every installed version is pinned in pyproject.toml, since no lock file is committed."""

import tomllib
from importlib.metadata import distributions

from tests.guards.pins import PYPROJECT, canonical, pinned

# What the environment's own tools bring along; the project neither needs nor chooses them.
TOOLING = {"pip", "setuptools", "uv", "wheel"}


def test_every_installed_distribution_has_the_pinned_version():
    installed = {canonical(one.metadata["Name"]): one.version for one in distributions()}

    differing = {
        name: version
        for name, version in installed.items()
        if pinned().get(name) != version and name not in TOOLING
    }

    assert not differing, "pin them: uv run --no-sync python -m tests.guards.pins --write"


def test_every_direct_dependency_is_pinned():
    project = tomllib.loads(PYPROJECT.read_text())
    wanted = [
        *project["project"]["dependencies"],
        *project["project"]["optional-dependencies"]["postgres"],
        *project["dependency-groups"]["mail-catcher"],
        *(one for one in project["dependency-groups"]["dev"] if isinstance(one, str)),
    ]

    names = {canonical(one.split("[")[0].split(">")[0].split("<")[0]) for one in wanted}

    assert names <= set(pinned())


def test_no_lock_file_is_committed():
    ignored = (PYPROJECT.parent / ".gitignore").read_text().splitlines()

    assert "uv.lock" in ignored

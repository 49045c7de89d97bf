"""The size budget of the code base: small files, small functions, no drawer for everything."""

import ast
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).resolve().parents[2]
APPS = ("equipment", "alarms", "compliance")
VAGUE = {"utils.py", "util.py", "common.py", "helpers.py", "helper.py", "manager.py", "misc.py", "base.py"}


def files(*folders: str) -> list[Path]:
    return [
        path
        for folder in folders
        for path in sorted((ROOT / folder).rglob("*.py"))
        if "migrations" not in path.parts
    ]


def functions(path: Path) -> Iterator[tuple[str, int]]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield (
                f"{path.relative_to(ROOT)}:{node.lineno} {node.name}",
                (node.end_lineno or 0) - node.lineno + 1,
            )


def test_no_file_is_longer_than_four_hundred_lines():
    too_long = [
        str(path.relative_to(ROOT))
        for path in files(*APPS, "tests")
        if len(path.read_text(encoding="utf-8").splitlines()) > 400
    ]

    assert not too_long


def test_no_function_is_longer_than_fifty_lines():
    too_long = [name for path in files(*APPS, "tests") for name, lines in functions(path) if lines > 50]

    assert not too_long


def test_the_usual_file_and_function_stay_small():
    lengths = [
        len(path.read_text(encoding="utf-8").splitlines()) for path in files(*APPS) if path.stat().st_size
    ]
    lines = [count for path in files(*APPS) for _, count in functions(path)]

    assert median(lengths) <= 120
    assert median(lines) <= 9


@pytest.mark.parametrize("folder", [*APPS, "tests"])
def test_no_file_is_named_after_nothing(folder):
    assert not [path for path in files(folder) if path.name in VAGUE]


def test_readme_and_developers_guide_stay_readable():
    assert len((ROOT / "README.md").read_text(encoding="utf-8").splitlines()) <= 150
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()) <= 400


def test_the_top_level_holds_what_was_agreed_and_nothing_else():
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "manage.py",
        "docker-compose.yml",
        "tests",
        *APPS,
    }

    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".") and path.name != "uv.lock"}

    assert found == agreed

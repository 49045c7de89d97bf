"""The versions pinned in pyproject.toml, and how to refresh them.

uv run --no-sync python -m tests.guards.pins            say what differs
uv run --no-sync python -m tests.guards.pins --write    resolve afresh and write the pins
"""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PYPROJECT = ROOT / "pyproject.toml"
BLOCK = re.compile(r"(constraint-dependencies = \[\n)(.*?)(\n?\])", re.DOTALL)


def canonical(name: str) -> str:
    """The spelling under which a package index knows a distribution (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pinned() -> dict[str, str]:
    """Distribution name -> version, as pyproject.toml holds them."""
    listed = tomllib.loads(PYPROJECT.read_text())["tool"]["uv"]["constraint-dependencies"]
    return {canonical(name): version for name, _, version in (pin.partition("==") for pin in listed)}


def locked() -> dict[str, str]:
    """Distribution name -> version in the lock file that uv keeps beside pyproject.toml (never committed)."""
    packages = tomllib.loads((ROOT / "uv.lock").read_text())["package"]
    return {canonical(one["name"]): one["version"] for one in packages if "virtual" not in one["source"]}


def write(versions: dict[str, str]) -> None:
    """Put these versions into pyproject.toml and leave every other line as it is."""
    lines = "\n".join(f'    "{name}=={version}",' for name, version in sorted(versions.items()))
    PYPROJECT.write_text(BLOCK.sub(lambda found: f"{found[1]}{lines}\n]", PYPROJECT.read_text(), count=1))


def refresh() -> None:
    """Drop the pins, let uv resolve the newest set, pin what it chose."""
    write({})
    subprocess.run(["uv", "lock", "--upgrade"], cwd=ROOT, check=True)
    write(locked())
    subprocess.run(["uv", "lock"], cwd=ROOT, check=True)


def main(arguments: list[str]) -> int:
    """Refresh, or report the first differences and fail."""
    if arguments == ["--write"]:
        refresh()
        sys.stdout.write(f"pinned {len(pinned())} versions in pyproject.toml\n")
        return 0
    different = {name for name, _ in pinned().items() ^ locked().items()}
    sys.stdout.write(
        "pins and lock agree\n" if not different else f"differ: {', '.join(sorted(different))}\n"
    )
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

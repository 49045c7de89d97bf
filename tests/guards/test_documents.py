"""What README and DEVELOPERS say is compared with what the code does."""

import json
import re
import shlex
import subprocess
import sys

import pytest
from django.urls import resolve

from tests.guards.test_sizes import APPS, ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands(text: str) -> list[str]:
    blocks = re.findall(r"```console\n(.*?)```", text, re.DOTALL)
    return [block.replace("\\\n", " ").strip() for block in blocks]


CURLS = [shlex.split(command) for command in commands(README) if command.startswith("curl")]


def test_the_two_commands_of_a_newcomer_stand_in_the_readme_word_for_word():
    assert "python3 -m pip install uv && uv run manage.py demo" in commands(README)
    assert "uv run pytest" in commands(README)


def test_ci_runs_the_readmes_test_command():
    assert re.search(r"^[^#]*uv run pytest$", (ROOT / ".ci" / "run").read_text(), re.MULTILINE)


@pytest.mark.parametrize("curl", CURLS, ids=lambda curl: curl[-1] if len(curl) < 5 else curl[3])
def test_the_addresses_of_the_readme_exist(curl):
    address = next(part for part in curl if part.startswith("http://"))
    method = curl[curl.index("-X") + 1] if "-X" in curl else "GET"

    view = resolve(re.sub(r"^http://[^/]+", "", address)).func.view_class

    assert method in view.rights


@pytest.mark.parametrize("curl", [curl for curl in CURLS if "-d" in curl], ids=lambda curl: curl[3])
def test_the_bodies_of_the_readme_are_json(curl):
    body = json.loads(curl[curl.index("-d") + 1])

    assert body


def test_the_roster_command_of_the_readme_knows_its_options():
    [command] = [one for one in commands(README) if "import_roster" in one]

    told = subprocess.run(
        [sys.executable, "manage.py", "import_roster", "--help"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert all(option in told for option in re.findall(r"--[a-z-]+", command))


def test_the_table_of_variables_is_that_of_the_settings_file():
    settings = (ROOT / "compliance" / "config" / "settings.py").read_text(encoding="utf-8")

    read = set(re.findall(r'env\.(?:text|flag|url|words|smtp|secret)\(\s*"([A-Z_]+)"', settings))
    told = set(re.findall(r"^\| `([A-Z_]+)` \|", DEVELOPERS, re.MULTILINE))

    assert read == told


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_that_is_named_exists(text):
    named = set(re.findall(rf"`((?:{'|'.join(APPS)}|tests)/[\w./-]*)`", text))

    missing = [path for path in named if not (ROOT / path).exists()]

    assert named
    assert not missing

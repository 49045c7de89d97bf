"""What README and DEVELOPERS say is compared with what the code does."""

import json
import re
import shlex
import subprocess
import sys

import pytest
import time_machine
from django.urls import resolve

from tests import world
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


def test_the_requests_that_set_up_a_site_work_in_their_order(owner, owner_client):
    site = world.facility(owner, "OWN")
    chosen = [one for one in CURLS if "PUT" in one or one[3].endswith("/keys")]
    told = []
    for curl in chosen:
        headers = dict(part.split(": ", 1) for part in curl if re.match(r"[A-Z][\w-]+: ", part))
        path = re.sub(r"^http://[^/]+", "", curl[3]).replace("/facilities/1/", f"/facilities/{site.pk}/")
        match = {"If-Match": headers["If-Match"]} if "If-Match" in headers else {}
        body = curl[curl.index("-d") + 1]
        with time_machine.travel("2026-11-25T12:00:00Z", tick=False):
            answer = owner_client.generic(curl[2], path, body, "application/json", headers=match)
        told.append((path.rsplit("/", 1)[1], answer.status_code, answer.json()))

    assert [(name, status) for name, status, _ in told] == [("call-list", 200), ("keys", 201)]
    assert [one["after_minutes"] for one in told[0][2]["steps"]] == [0, 15]
    assert told[1][2]["role"] == "gateway"


def test_the_command_that_puts_a_company_on_file_knows_its_options():
    [command] = [line for one in commands(README) for line in one.splitlines() if "add_organisation" in line]

    told = subprocess.run(
        [sys.executable, "manage.py", "add_organisation", "--help"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert "--call" in command
    assert "--call" in told


def test_the_roster_command_of_the_readme_knows_its_options():
    [command] = [line for one in commands(README) for line in one.splitlines() if "import_roster" in line]

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

    read = set(re.findall(r'env\.(?:text|flag|url|words|smtp|secret|rate|level)\(\s*"([A-Z_]+)"', settings))
    told = set(re.findall(r"^\| `([A-Z_]+)` \|", DEVELOPERS, re.MULTILINE))

    assert read == told


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_path_that_is_named_exists(text):
    named = set(re.findall(rf"`((?:{'|'.join(APPS)}|tests)/[\w./-]*)`", text))

    missing = [path for path in named if not (ROOT / path).exists()]

    assert named
    assert not missing

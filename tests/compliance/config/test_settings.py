"""The settings file, started as a process of its own in each mode."""

import os
import subprocess
import sys

from tests.guards.test_sizes import ROOT

KEY = "0123456789-abcdefghijklmnopqrstuvwxyz-ABCDEFGHIJKLMNOP"


def manage(*arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    kept = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=kept | variables,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_deployment_check_is_clean_with_debug_off(tmp_path):
    done = manage(
        "check",
        "--deploy",
        "--fail-level",
        "WARNING",
        DATA_DIR=str(tmp_path),
        SECRET_KEY=KEY,
        DATABASE_URL="postgres://nobody@127.0.0.1:1/none",
        PUBLIC_URL="https://example.org",
    )

    assert done.returncode == 0, done.stderr


def test_a_database_of_ones_own_asks_for_a_secret_of_ones_own(tmp_path):
    done = manage("check", DATA_DIR=str(tmp_path), DATABASE_URL="postgres://nobody@127.0.0.1:1/none")

    assert done.returncode != 0
    assert "SECRET_KEY: required" in done.stderr


def test_the_embedded_default_needs_no_variable_but_a_place_to_write(tmp_path):
    done = manage("check", "--deploy", "--fail-level", "WARNING", DATA_DIR=str(tmp_path))

    assert done.returncode == 0, done.stderr
    assert (tmp_path / "secret_key").exists()


def test_every_value_that_cannot_be_read_is_named_before_anything_starts(tmp_path):
    bad = {
        "DATABASE_URL": "postgres://marina@db:port/fuel",
        "REDIS_URL": "http://redis",
        "SMTP_URL": "smtp://mail:port",
        "SECRET_KEY": "x",
        "PUBLIC_URL": "https://",
        "BEHIND_PROXY": "perhaps",
        "API_RATE": "foo",
        "LOG_LEVEL": "bogus",
        "DEBUG": "maybe",
    }

    done = manage("check", DATA_DIR=str(tmp_path), **bad)

    assert done.returncode != 0
    assert [name for name in bad if name not in done.stderr.partition("cannot start:")[2]] == []

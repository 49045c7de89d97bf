"""docker-compose.yml runs on machines that we do not have here; the commands in it do run here."""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Timer

import pytest
import yaml

from tests.guards.test_sizes import ROOT

COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return listener.getsockname()[1]


@contextmanager
def running(service: str, folder, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """The command of a service, with this test's folder, port and interpreter in place of the container's."""
    command = [re.sub(r"0\.0\.0\.0:\d+", f"127.0.0.1:{port}", part) for part in SERVICES[service]["command"]]
    program = [sys.executable] if command[0] == "python" else [sys.executable, "-m", command[0]]
    kept = {name: os.environ[name] for name in ("PATH", "HOME") if name in os.environ}
    env = kept | {"DATA_DIR": str(folder), "PUBLIC_URL": f"http://127.0.0.1:{port}"}
    process = subprocess.Popen(
        [*program, *command[1:]], cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            # A signal that reaches Celery in the middle of its start can be lost; an engine kills after its grace too.
            process.kill()
            process.wait()
        process.stdout.close()


@pytest.fixture
def folder(tmp_path):
    """A data folder with an up-to-date database, made by the command of the service that does so."""
    with running("migrate", tmp_path, 0) as process:
        assert process.wait(120) == 0
    return tmp_path


def answer(address: str, patience_s: float = 30) -> int:
    until = time.monotonic() + patience_s
    while True:
        try:
            with urllib.request.urlopen(address, timeout=2) as reply:
                return reply.status
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.2)


def test_the_web_command_serves(folder):
    port = free_port()

    with running("web", folder, port):
        assert answer(f"http://127.0.0.1:{port}/health") == 200


@pytest.mark.parametrize(("service", "sign"), [("worker", b"ready."), ("beat", b"beat: Starting")])
def test_the_worker_and_timetable_commands_start(folder, service, sign):
    with running(service, folder, 0) as process:
        # Its output ends when it does: a command that never says so ends the test, not the patience of whoever waits.
        alarm_clock = Timer(45, process.kill)
        alarm_clock.start()
        said = any(sign in line for line in iter(process.stdout.readline, b""))
        alarm_clock.cancel()

    assert said


def test_the_mail_catcher_command_listens(tmp_path):
    port = free_port()

    with running("mail", tmp_path, port):
        until = time.monotonic() + 20
        while time.monotonic() < until:
            with socket.socket() as caller:
                if caller.connect_ex(("127.0.0.1", port)) == 0:
                    assert caller.recv(3) == b"220"
                    return
            time.sleep(0.1)
    pytest.fail("nobody listened")


def test_every_variable_of_the_compose_file_is_one_that_the_settings_read():
    settings = (ROOT / "compliance" / "config" / "settings.py").read_text()

    unread = [name for name in COMPOSE["x-service"]["environment"] if f'"{name}"' not in settings]

    assert not unread


def test_everything_the_image_copies_exists():
    build = SERVICES["migrate"]["build"]["dockerfile_inline"]

    copied = [name for line in re.findall(r"^COPY (.+) \S+$", build, re.MULTILINE) for name in line.split()]

    assert copied
    assert all((ROOT / name).exists() for name in copied)

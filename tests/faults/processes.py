"""Real processes on the database of the run, by the settings that a real service reads. Each ends when we do."""

import os
import random
import signal
import socket
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection

SECRET = "only for these tests, and for nothing else at all"


def database_url() -> str:
    """The database that this process is connected to, for a process of its own."""
    parts = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{parts['NAME']}"
    secret = f":{parts['PASSWORD']}" if parts["PASSWORD"] else ""
    return f"postgres://{parts['USER']}{secret}@{parts['HOST']}:{parts['PORT'] or 5432}/{parts['NAME']}"


def environment(*, smtp_port: int, folder: Path | None = None, **more: str) -> dict[str, str]:
    """Variables of a process that shares our database and broker and mails to loopback."""
    return os.environ | {
        "DATABASE_URL": database_url(),
        "DATA_DIR": str(folder or settings.DATA_DIR),
        "SECRET_KEY": SECRET,
        "SMTP_URL": f"smtp://127.0.0.1:{smtp_port}",
        "DJANGO_SETTINGS_MODULE": "compliance.config.settings",
        "PYTHONWARNINGS": "ignore:You're running the worker with superuser",
        **more,
    }


def free_port() -> int:
    """A port of loopback that nobody listens on."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def start_module(*command: str, variables: Mapping[str, str]) -> "subprocess.Popen[bytes]":
    """`python -m command...`, ended by a tether when this process ends, however that happens."""
    tethered = [sys.executable, "-m", "compliance.config.tether", *command]
    return subprocess.Popen(
        tethered,
        env=dict(variables),
        cwd=settings.ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )


def end(process: "subprocess.Popen[bytes]", *, how: int = signal.SIGKILL) -> None:
    """Send the signal, wait, and close the tether."""
    process.send_signal(how)
    process.wait(30)
    if process.stdin is not None:
        process.stdin.close()


@dataclass
class Workers:
    """Celery workers of one process each, as `manage.py serve` starts them."""

    count: int
    app: str
    queue: str
    variables: Mapping[str, str]
    running: list["subprocess.Popen[bytes]"] = field(default_factory=list)
    kills: int = 0
    deaths: int = 0

    def __enter__(self) -> "Workers":
        self.running = [self._start() for _ in range(self.count)]
        return self

    def __exit__(self, *_: object) -> None:
        for one in self.running:
            one.terminate()
        for one in self.running:
            try:
                one.wait(20)
            except subprocess.TimeoutExpired:
                one.kill()
            end(one)

    def kill_one(self, chance: random.Random) -> None:
        """SIGKILL a random one and start another in its place."""
        place = chance.randrange(self.count)
        end(self.running[place])
        self.running[place] = self._start()
        self.kills += 1

    def replace_dead(self) -> None:
        """Start another for each that ended by itself, which none should."""
        dead = [place for place, one in enumerate(self.running) if one.poll() is not None]
        for place in dead:
            end(self.running[place])
            self.running[place] = self._start()
            self.deaths += 1

    def _start(self) -> "subprocess.Popen[bytes]":
        options = ["-P", "solo", "-Q", self.queue, "--without-gossip", "--without-mingle"]
        command = ["celery", "--quiet", "-A", self.app, "worker", *options, "--loglevel", "ERROR"]
        return start_module(*command, variables=self.variables)

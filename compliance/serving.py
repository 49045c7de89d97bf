"""The whole service on one machine: web, worker and timetable as children that end with this process."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import FrameType

STOP_WITHIN_S = 15.0


def commands(*, bind: str) -> dict[str, list[str]]:
    """What each child runs. One web process with threads: no proxy stands in front of the embedded mode."""
    celery = ["celery", "-A", "compliance.config.celery"]
    return {
        "web": [
            "gunicorn",
            "compliance.config.wsgi",
            "--bind",
            bind,
            "--threads",
            "4",
            "--no-control-socket",
        ],
        "worker": [
            *celery,
            "worker",
            "-P",
            "solo",
            "--without-gossip",
            "--without-mingle",
            "--loglevel",
            "WARNING",
        ],
        "beat": [*celery, "beat", "--loglevel", "WARNING"],
    }


@dataclass
class Household:
    """Children by name, and how to look after them."""

    say: Callable[[str], None]
    children: dict[str, "subprocess.Popen[bytes]"] = field(default_factory=dict)
    stopping: bool = False

    def start(self, wanted: Mapping[str, list[str]]) -> None:
        """Start each child on a tether: it ends when we do."""
        for name, command in wanted.items():
            tethered = [sys.executable, "-m", "compliance.config.tether", *command]
            # A session of its own: Ctrl-C reaches us alone, and we stop the children in order.
            self.children[name] = subprocess.Popen(  # noqa: S603 - commands are our own constants
                tethered, stdin=subprocess.PIPE, start_new_session=True
            )

    def watch(self) -> int:
        """Wait until asked to stop, or until a child ends by itself: half a service would look alive."""
        signal.signal(signal.SIGTERM, self._ask)
        signal.signal(signal.SIGINT, self._ask)
        while not self.stopping:
            for name, child in self.children.items():
                if child.poll() is not None:
                    self.say(f"{name} ended with code {child.returncode}; stopping the rest")
                    self.stop()
                    return 1
            time.sleep(0.2)
        self.stop()
        return 0

    def stop(self) -> None:
        """Ask every child to finish what it is doing; end those that do not."""
        for child in self.children.values():
            child.terminate()
        deadline = time.monotonic() + STOP_WITHIN_S
        for name, child in self.children.items():
            try:
                child.wait(max(0.1, deadline - time.monotonic()))
            except subprocess.TimeoutExpired:
                self.say(f"{name} did not stop in time and was ended")
                child.kill()
                child.wait()

    def _ask(self, number: int, frame: FrameType | None) -> None:
        self.stopping = True

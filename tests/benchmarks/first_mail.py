"""From an event to the first mail about it: how long until a mail server has taken it, in quiet times and in a burst.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.benchmarks.first_mail [seconds] [burst]

One web process, two Celery workers with every task of the service, the timetable's tick, a mail server on loopback, and
a database of its own. Each event opens an alarm at a site of its own, whose first person is told of nothing else, so
that nobody's minute between two mails is measured. Steady: two events a second. Burst: all at once, as fast as one
client sends them. The clock starts when the request is sent and stops at the server's 250 (RFC 5321).
"""

import sys
import time
from collections.abc import Callable, Sequence
from statistics import median, quantiles
from threading import Event, Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.faults.call_world import Site
    from tests.faults.catcher import Catcher
    from tests.faults.storm import Doorway

A_SECOND = 2
WORKERS = 2
WARM_UP_S = 20.0
PATIENCE_S = 120.0


def main(seconds: int, burst: int) -> int:
    """Serve, send, print; 1 when a mail is missing."""
    from tests.faults.scratch import scratch_database

    with scratch_database():
        return measure(steady=seconds * A_SECOND, burst=burst)


def measure(*, steady: int, burst: int) -> int:
    """How many mails are missing."""
    from django.utils import timezone

    from tests.faults import call_world
    from tests.faults.catcher import catching
    from tests.faults.processes import Workers, environment, free_port
    from tests.faults.storm import QUEUE, doorway_of
    from tests.faults.web import serving
    from tests.faults.workers_killed import waker

    sites = call_world.build(1 + steady + burst, helped_every=10_000, sites_an_operator=1)
    smtp = free_port()
    variables = environment(smtp_port=smtp, PUBLIC_URL="http://127.0.0.1", API_RATE="1000000/min")
    with (
        catching(smtp) as catcher,
        serving(variables) as port,
        Workers(WORKERS, "compliance.config.celery", QUEUE, variables),
        ticking(waker(QUEUE)),
    ):
        doorway = doorway_of(port, sites, timezone.now)
        time.sleep(WARM_UP_S)
        first = _send(doorway, sites, range(1), every=0)
        _wait(catcher, first)
        sent = _send(doorway, sites, range(1, 1 + steady), every=1 / A_SECOND)
        missing = _tell(f"steady, {A_SECOND} a second", sent, catcher)
        sent = _send(doorway, sites, range(1 + steady, 1 + steady + burst), every=0)
        missing += _tell(f"burst of {burst}", sent, catcher)
    return 1 if missing else 0


class ticking:
    """Wakes the sender as often as the timetable does."""

    def __init__(self, wake: Callable[[], object]) -> None:
        self.wake, self.over = wake, Event()

    def __enter__(self) -> None:
        self.thread = Thread(target=self._tick, daemon=True)
        self.thread.start()

    def __exit__(self, *_: object) -> None:
        self.over.set()
        self.thread.join()

    def _tick(self) -> None:
        from compliance.config.celery import TELL_S

        while not self.over.wait(TELL_S):
            self.wake()


def _send(
    doorway: "Doorway", sites: "Sequence[Site]", numbers: Sequence[int], *, every: float
) -> dict[str, float]:
    """An alarm at each of these sites; when each was sent, by its device."""
    from tests.faults.storm import Intake, device

    intake, sent = Intake(), {}
    for number in numbers:
        sent[device(number)] = start = time.time()
        doorway.send(sites[number], [number], intake)
        time.sleep(max(0.0, start + every - time.time()))
    if intake.refused:
        raise SystemExit(intake.refused[0])
    return sent


def _wait(catcher: "Catcher", sent: dict[str, float]) -> dict[str, float]:
    """When each was taken, as far as they come in time."""
    until = time.time() + PATIENCE_S
    taken: dict[str, float] = {}
    while len(taken) < len(sent) and time.time() < until:
        time.sleep(0.2)
        for one in list(catcher.taken):
            for name in one.devices & sent.keys():
                taken.setdefault(name, one.at)
    return taken


def _tell(name: str, sent: dict[str, float], catcher: "Catcher") -> int:
    taken = _wait(catcher, sent)
    lasted = sorted(taken[one] - sent[one] for one in taken)
    late = quantiles(lasted, n=100, method="inclusive")[98]
    print(
        f"{name:>20}: {len(sent)} events, first mail after {median(lasted):.2f} s in the middle, "
        f"{late:.2f} s at the 99th, {lasted[-1]:.2f} s at most; "
        f"{len(sent) - len(taken)} missing"
    )
    return len(sent) - len(taken)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*numbers, *(60, 100)[len(numbers) :]))

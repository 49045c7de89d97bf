"""Workers are killed at random (SIGKILL) while alarms climb their call lists: no call is lost, doubled or misdirected.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.faults.workers_killed [--alarms 2000]

Real Celery workers with the service's own task, a mail server on loopback, and a database of its own (`test_...`) that
is dropped afterwards. The workers' clock runs faster than the world's, so that hours of a call list pass in minutes.
At the end each alarm's calls, foretold from its call list alone, are held against the notices on file and the mails
that were taken. Prints the counts; ends with 1 when anything differs.
"""

import argparse
import heapq
import os
import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from itertools import count
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.faults.accounts import Account
    from tests.faults.call_world import Site
    from tests.faults.catcher import Catcher
    from tests.faults.processes import Workers

ALARMS_A_SITE = 10
BUSY_EVERY = 50


@dataclass(frozen=True, kw_only=True)
class Order:
    """What to run: `seconds` of the world, `pace` seconds of the workers' clock in each, a kill every so many.

    `warm_up`: how long the first workers take to start.
    """

    alarms: int = 2000
    seconds: float = 600
    pace: float = 12
    workers: int = 4
    kill_every: float = 5
    seed: int = 1
    warm_up: float = 12


@dataclass
class Diary:
    """Things to do, each at its moment of the world's clock."""

    entries: list[tuple[float, int, Callable[[], object]]] = field(default_factory=list)
    turns: Iterator[int] = field(default_factory=count)

    def add(self, at: float, do: Callable[[], object]) -> None:
        """Do it then."""
        heapq.heappush(self.entries, (at, next(self.turns), do))

    def live_through(self, until: float) -> None:
        """Do everything in its order."""
        while self.entries and self.entries[0][0] <= until:
            at, _, do = heapq.heappop(self.entries)
            time.sleep(max(0.0, at - time.time()))
            do()
        time.sleep(max(0.0, until - time.time()))


def run(order: Order, say: Callable[[str], None] = print) -> "Account":
    """Build the sites, let alarms come in while workers die, let the rest finish, and settle the account."""
    from tests.faults import call_world
    from tests.faults.accounts import settle
    from tests.faults.catcher import catching
    from tests.faults.fast_celery import START, clock_of
    from tests.faults.processes import Workers, environment, free_port

    half = START + timedelta(seconds=order.seconds * order.pace / 2)
    sites = call_world.build(max(1, order.alarms // ALARMS_A_SITE), contractor_leaves=half)
    port, queue = free_port(), f"faults-{os.getpid()}"
    started = time.time() + order.warm_up
    variables = environment(smtp_port=port, FAST_CLOCK=f"{started} {order.pace}")
    clock = clock_of(started, order.pace)
    say(f"{order.alarms} alarms at {len(sites)} sites, {order.workers} workers, seed {order.seed}")
    with (
        catching(port, busy_every=BUSY_EVERY) as catcher,
        Workers(order.workers, "tests.faults.fast_celery", queue, variables) as workers,
    ):
        wake = waker(queue)
        _live(order, sites, workers, started, clock, wake)
        until = clock()
        late = _finish(until, wake, workers, order)
    account = settle({site.facility.pk: site.plan for site in sites}, catcher.taken, until=until)
    _report(account, order, workers, catcher, until - START, late, say)
    return account


def waker(queue: str) -> Callable[[], object]:
    """Wakes the task of the service in this run's own queue, as a doorway and the timetable do."""
    from alarms.tasks import tell

    return lambda: tell.apply_async(queue=queue, retry=False, expires=60)


def _live(
    order: Order,
    sites: "list[Site]",
    workers: "Workers",
    started: float,
    clock: Callable[[], datetime],
    wake: Callable[[], object],
) -> None:
    """Alarms come in during the first two thirds; kills and the timetable's ticks go on to the end."""
    from compliance.config.celery import TELL_S

    chance = random.Random(order.seed)
    diary = Diary()
    until = started + order.seconds
    for number in range(order.alarms):
        site = sites[number % len(sites)]
        at = started + chance.uniform(0, order.seconds * 2 / 3)
        diary.add(at, partial(_raise, site, number, clock))
        diary.add(at, wake)
    moment = started
    while (moment := moment + chance.uniform(0.2, 1.8) * order.kill_every) < until:
        diary.add(moment, partial(workers.kill_one, chance))
    ticks = int(order.seconds * order.pace / TELL_S)
    for tick in range(ticks):
        diary.add(started + tick * TELL_S / order.pace, wake)
    diary.live_through(until)


def _raise(site: "Site", number: int, clock: Callable[[], datetime]) -> None:
    from alarms.services.intake import receive_events
    from tests.faults.call_world import report

    now = clock()
    receive_events(
        facility=site.facility,
        source_org=site.facility.operator,
        entered_by="gateway",
        events=[report(f"d{number:05}", at=now)],
        now=now,
    )


def _finish(until: datetime, wake: Callable[[], object], workers: "Workers", order: Order) -> int:
    """Let the workers finish what was due by then, in peace; how many notices or alarms are left over."""
    from alarms.models import Alarm, Notice
    from alarms.models.alarms import IS_WAITING
    from alarms.models.notices import IS_UNSENT
    from alarms.services.mailboxes import LEASE

    patience = time.time() + 60 + 4 * LEASE.total_seconds() / order.pace
    left = 1
    while left and time.time() < patience:
        workers.replace_dead()
        wake()
        time.sleep(0.5)
        left = Notice.objects.filter(IS_UNSENT, due_at__lte=until).count()
        left += Alarm.objects.filter(IS_WAITING, next_step_at__lte=until).count()
    return left


def _report(
    account: "Account",
    order: Order,
    workers: "Workers",
    catcher: "Catcher",
    lasted: timedelta,
    late: int,
    say: Callable[[str], None],
) -> None:
    say(f"{order.seconds:.0f} s, {lasted} by the workers' clock; {workers.kills} workers killed")
    say(f"alarms                {account.alarms:7}")
    say(f"notices foreseen      {account.notices_foreseen:7}, of these overtaken {account.overtaken}")
    say(f"notices on file       {account.notices:7}")
    say(f"notices handed over   {account.mails_owed:7}")
    say(f"mails taken           {account.mails_taken:7}, of these repeats {account.mails_taken_again}")
    say(f"mails put off by 451  {catcher.put_off:7}")
    if late:
        account.wrong.append(f"{late} notices or alarms were still due at the end")
    if workers.deaths:
        account.wrong.append(f"{workers.deaths} workers ended by themselves")
    if account.alarms != order.alarms:
        account.wrong.append(f"{order.alarms} alarms came in, {account.alarms} are on file")
    for line in account.wrong[:20]:
        say(f"WRONG {line}")
    say(f"wrong                 {len(account.wrong):7}")


def main() -> int:
    """Run on a database of its own; 1 when anything was wrong."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    for name in ("alarms", "workers", "seed"):
        words.add_argument(f"--{name}", type=int, default=getattr(Order(), name))
    for name in ("seconds", "pace", "kill_every", "warm_up"):
        words.add_argument(f"--{name.replace('_', '-')}", type=float, default=getattr(Order(), name))
    order = Order(**vars(words.parse_args()))
    from tests.faults.scratch import scratch_database

    with scratch_database():
        return 1 if run(order).wrong else 0


if __name__ == "__main__":
    sys.exit(main())

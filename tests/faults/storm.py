"""A storm of alarms comes in through the API while workers send: one mail a person a minute, and nothing missing.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.faults.storm [--alarms 20000] [--sites 500]

One web process, real Celery workers with every task of the service, a mail server on loopback, and a database of its
own that is dropped afterwards. A tenth of the alarms comes in before the workers are there: that is the pace of the
intake alone. The rest comes in while they work. Then the run waits until everybody was told. The first people of each
site are called at once, and a contractor's person for every tenth site. Prints the counts; ends with 1 when a person
got two mails within a minute, when an alarm is missing from the mails of anybody who is to be told, when a request was
refused or took longer than `TOO_LONG_S`, or when the intake beside the workers keeps less than half (`--pace-kept`) of
the events a second that it took in alone, in the same run.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from statistics import median, quantiles
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.faults.accounts import Account
    from tests.faults.call_world import Site
    from tests.faults.catcher import Taken
    from tests.faults.processes import Workers

MINUTE_S = 60.0
TOO_LONG_S = 10.0
QUEUE = "celery"


@dataclass(frozen=True, kw_only=True)
class Order:
    """What to run: so many alarms at so many sites, so many in a request. `pace`: seconds of the service's clock in one
    of the world's; 1 is the clock itself. `warm_up`: how long the workers take to start. `pace_kept`: the least part of
    its rate alone that the intake must keep beside the workers; 0 asks for none."""

    alarms: int = 20_000
    sites: int = 500
    batch: int = 20
    workers: int = 4
    pace: float = 1
    warm_up: float = 15
    patience: float = 1500
    pace_kept: float = 0.5


@dataclass
class Intake:
    """Seconds a request took, and what was answered that should not have been."""

    seconds: list[float] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)

    def rate(self, batch: int) -> float:
        """Events a second."""
        return batch * len(self.seconds) / sum(self.seconds) if self.seconds else 0.0

    def words(self, batch: int) -> str:
        """One line."""
        late = quantiles(self.seconds, n=100, method="inclusive")[98]
        middle = median(self.seconds)
        return (
            f"{self.rate(batch):7,.0f} events/s, {middle * 1000:.0f} ms a request in the middle, "
            f"{late * 1000:.0f} ms at the 99th, {max(self.seconds) * 1000:.0f} ms at most"
        )


@dataclass(frozen=True)
class Doorway:
    """Where the events go; `started`: by the world's clock."""

    port: int
    secrets: dict[int, str]
    clock: Callable[[], datetime]

    def send(self, site: "Site", numbers: Sequence[int], intake: Intake) -> None:
        """One request with an alarm for each number."""
        from tests.faults.web import post

        at = self.clock().isoformat()
        events = [
            {
                "id": f"e{one}",
                "device": device(one),
                "condition": "sump-liquid",
                "signal": "raised",
                "occurred_at": at,
            }
            for one in numbers
        ]
        body = json.dumps({"source": "gateway", "events": events}).encode()
        path = f"/api/v1/facilities/{site.facility.pk}/events"
        start = time.perf_counter()
        status, answer = post(self.port, path, self.secrets[site.facility.operator_id], body)
        intake.seconds.append(time.perf_counter() - start)
        if status != 201 or len(json.loads(answer)["opened"]) != len(numbers):
            intake.refused.append(f"{status} {answer[:300]!r}")


def device(number: int) -> str:
    """A name that each mail shows and no other alarm has."""
    return f"d{number:05}"


def run(order: Order, say: Callable[[str], None] = print) -> "Account":
    """Build the sites, let the storm come, wait until all were told, and settle the account."""
    from django.utils import timezone

    from tests.faults import call_world
    from tests.faults.accounts import settle
    from tests.faults.catcher import catching
    from tests.faults.fast_celery import clock_of
    from tests.faults.processes import Workers, environment, free_port
    from tests.faults.web import serving

    sites = call_world.build(order.sites, minutes=(0, 180, 360), helped_every=10, service_at=0)
    smtp, started = free_port(), time.time()
    fast = {} if order.pace == 1 else {"FAST_CLOCK": f"{started} {order.pace}"}
    clock = timezone.now if order.pace == 1 else clock_of(started, order.pace)
    variables = environment(smtp_port=smtp, PUBLIC_URL="http://127.0.0.1", API_RATE="1000000/min") | fast
    posts = list(_posts(sites, order))
    first = max(1, len(posts) // 10)
    alone, together = Intake(), Intake()
    with catching(smtp) as catcher, serving(variables, application="tests.faults.fast_wsgi") as port:
        doorway = doorway_of(port, sites, clock)
        for site, numbers in posts[:first]:
            doorway.send(site, numbers, alone)
        with Workers(order.workers, "tests.faults.fast_celery", QUEUE, variables) as workers:
            time.sleep(order.warm_up)
            for site, numbers in posts[first:]:
                doorway.send(site, numbers, together)
            came_in = time.time()
            left = _wait_until_told(workers, order)
            took = time.time() - came_in
    account = settle({site.facility.pk: site.plan for site in sites}, catcher.taken, until=clock())
    account.wrong += [f"answered {one}" for one in alone.refused + together.refused]
    account.wrong += _too_soon(catcher.taken, MINUTE_S / order.pace)
    if left:
        account.wrong.append(f"{left} notices or alarms were still due when patience ended")
    if workers.deaths:
        account.wrong.append(f"{workers.deaths} workers ended by themselves")
    account.wrong += slowed(alone, together, order)
    say(f"{order.alarms} alarms at {order.sites} sites, {order.batch} a request, {order.workers} workers")
    say(f"intake alone       {alone.words(order.batch)}")
    say(f"intake with them   {together.words(order.batch)}")
    say(f"all told           {took:7.0f} s after the last event")
    _report(account, catcher.taken, order, say)
    return account


def slowed(alone: Intake, together: Intake, order: Order) -> list[str]:
    """How the workers hold up the intake more than they may."""
    kept = together.rate(order.batch) / alone.rate(order.batch)
    found = []
    if (longest := max(together.seconds)) > TOO_LONG_S:
        found.append(f"a request took {longest:.1f} s")
    if kept < order.pace_kept:
        found.append(f"the intake kept {kept:.0%} of its pace, and has to keep {order.pace_kept:.0%}")
    return found


def _posts(sites: "Sequence[Site]", order: Order) -> "list[tuple[Site, range]]":
    """Which alarms go in which request: every site in turn, until all have come."""
    starts = range(0, order.alarms, order.batch)
    return [(sites[place % len(sites)], range(at, at + order.batch)) for place, at in enumerate(starts)]


def doorway_of(port: int, sites: "Sequence[Site]", clock: Callable[[], datetime]) -> Doorway:
    """With a key of every operator."""
    from tests import world

    operators = {site.facility.operator_id: site.facility.operator for site in sites}
    keys = {pk: world.key(operator, now=clock()) for pk, operator in operators.items()}
    return Doorway(port, keys, clock)


def _wait_until_told(workers: "Workers", order: Order) -> int:
    """Tick as the timetable does; how many notices or alarms are left when nothing is due, or when patience ends."""
    from alarms.models import Alarm, Notice
    from alarms.models.notices import IS_UNSENT
    from compliance.config.celery import TELL_S
    from tests.faults.workers_killed import waker

    wake, until, left, tick = waker(QUEUE), time.time() + order.patience, 1, 0.0
    while left and time.time() < until:
        workers.replace_dead()
        if time.time() >= tick:
            wake()
            tick = time.time() + TELL_S / order.pace
        time.sleep(0.5 / order.pace)
        left = Notice.objects.filter(IS_UNSENT).count() + Alarm.objects.filter(next_step=1).count()
    return left


def _too_soon(taken: "Sequence[Taken]", minute: float) -> list[str]:
    """Mails that came within a minute of the one before to the same person."""
    by_person: dict[str, list[float]] = {}
    for one in taken:
        by_person.setdefault(one.to, []).append(one.at)
    return [
        f"{person} got two mails within {second - first:.2f} s"
        for person, times in by_person.items()
        for first, second in pairwise(sorted(times))
        if second - first < minute
    ]


def _report(account: "Account", taken: "Sequence[Taken]", order: Order, say: Callable[[str], None]) -> None:
    people = {one.to for one in taken}
    most = max((len(one.devices) for one in taken), default=0)
    say(f"alarms             {account.alarms:7}")
    say(f"notices foreseen   {account.notices_foreseen:7}")
    say(f"notices on file    {account.notices:7}")
    say(f"mails taken        {account.mails_taken:7}, to {len(people)} people, with {most} alarms at most")
    if account.alarms != order.alarms:
        account.wrong.append(f"{order.alarms} alarms were sent, {account.alarms} are on file")
    for line in account.wrong[:20]:
        say(f"WRONG {line}")
    say(f"wrong              {len(account.wrong):7}")


def main() -> int:
    """Run on a database of its own; 1 when anything was wrong."""
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    for name in ("alarms", "sites", "batch", "workers"):
        words.add_argument(f"--{name}", type=int, default=getattr(Order(), name))
    for name in ("pace", "patience", "pace_kept"):
        words.add_argument(f"--{name.replace('_', '-')}", type=float, default=getattr(Order(), name))
    order = Order(**vars(words.parse_args()))
    from tests.faults.scratch import scratch_database

    with scratch_database():
        return 1 if run(order).wrong else 0


if __name__ == "__main__":
    sys.exit(main())

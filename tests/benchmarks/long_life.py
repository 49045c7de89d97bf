"""What a site of many years costs: its alarms of a past instant, who heard of them, and a message that comes late.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.benchmarks.long_life [events] [rounds]

A database of its own. The floor reads the site's alarms as they are today, through the same door; the median round
counts, and the memory is the peak of one more round. The late message lies within the last of 400 daily alarms, each
ended by the raise of the next. Ends with 1 where a past instant takes more than 3 times the floor.
"""

import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from datetime import timedelta
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alarms.models import Alarm
    from equipment.models import Facility

DEVICES = 40
MESSAGES = 40  # of one alarm
YEARS = 5
DAILY = 400
AT_MOST = 2.0
DAY = timedelta(days=1)


def main(events: int, rounds: int) -> int:
    """Fill, ask, print; 1 when the past costs too much."""
    from tests.faults.scratch import scratch_database

    with scratch_database():
        from tests import world

        owner = world.organisation("Own Marinas")
        site = world.facility(owner, "LONG")
        _fill(site, events)
        _note_sources()
        _analyse()
        seconds = {}
        print(f"{events} events at one site over {YEARS} years, median of {rounds} rounds")
        for name, work in _asked(site):
            seconds[name] = median(_timed(work) for _ in range(rounds + 1))
            print(f"{name:>40}: {seconds[name]:7.3f} s, {_peak(work):6.1f} MB")
        _late_message(world.facility(owner, "DAILY"))
    floor = seconds["floor: alarms as they are"]
    past = max(took for name, took in seconds.items() if name.startswith("alarms as of"))
    print(f"{past / floor:.1f} times the floor; at most {AT_MOST}")
    return 0 if past <= AT_MOST * floor else 1


def _asked(site: "Facility") -> Iterator[tuple[str, Callable[[], object]]]:
    from alarms.queries import alarms_of, heard_from
    from tests.world import NOW

    yield "floor: alarms as they are", lambda: alarms_of([site.pk])
    for days in (1, 30, 365, 365 * (YEARS - 1)):
        yield (
            f"alarms as of {days} days ago",
            lambda back=days: alarms_of([site.pk], known_at=NOW - back * DAY),
        )  # type: ignore[misc]
    yield "who heard of them", lambda: heard_from([site.pk])
    yield "who had heard of them a year ago", lambda: heard_from([site.pk], known_at=NOW - 365 * DAY)


def _late_message(site: "Facility") -> None:
    """A liquid that came back 400 times without a clear in between, each time a little more than a day after the last:
    every raise ended the alarm before it. And one message about the last of them that was stuck in the gateway."""
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from alarms.services.answering import acknowledge
    from tests.alarms.sites import deliver, minutes, raised, report
    from tests.world import NOW

    for number in range(DAILY, 0, -1):
        at = NOW - number * timedelta(hours=25)
        acknowledge(alarm=raised(site, now=at), by="Ann", note=None, now=at + minutes(60))
    stuck = report(signal="cleared", occurred_at=NOW - timedelta(hours=10))
    deliver(site, report(occurred_at=NOW - timedelta(hours=9)), now=NOW - timedelta(hours=9))
    with CaptureQueriesContext(connection) as asked:
        took = _timed(lambda: deliver(site, stuck, now=NOW))
    print(f"{'a late message':>40}: {took:7.3f} s, {len(asked)} queries")


def _fill(site: "Facility", count: int) -> None:
    """Alarms device by device, each raised and cleared so often, then acknowledged; the last of each still waits."""
    from alarms.models import Alarm, AlarmStep, Event

    number = count // MESSAGES
    alarms = Alarm.objects.bulk_create([_alarm(site, at, number) for at in range(number)])
    AlarmStep.objects.bulk_create(
        AlarmStep(
            facility=site,
            alarm=one,
            kind="acknowledge",
            at=one.acknowledged_at,
            through=one.acknowledged_at,
            by="Ann",
        )
        for one in alarms
        if one.acknowledged_at is not None
    )
    for start in range(0, number, 500):
        Event.objects.bulk_create(event for one in alarms[start : start + 500] for event in _messages(one))


def _alarm(site: "Facility", place: int, number: int) -> "Alarm":
    from alarms.models import Alarm
    from tests.world import NOW

    at = NOW - YEARS * 365 * DAY * (number - place) / number
    last = at + (MESSAGES - 1) * timedelta(minutes=5)
    waits = place >= number - DEVICES
    return Alarm(
        facility=site,
        device=f"D{place % DEVICES}",
        condition="sump-liquid",
        condition_class="unusual operating condition",
        priority="high",
        state="returned-unacknowledged" if waits else "normal",
        raised_at=at,
        opened_at=at,
        called_from=at,
        occurrences=MESSAGES // 2,
        last_raised_at=last - timedelta(minutes=5),
        cleared_at=last,
        last_turn_at=last if waits else last + timedelta(minutes=5),
        ended_at=None if waits else last + timedelta(minutes=5),
        acknowledged_at=None if waits else last + timedelta(minutes=5),
        acknowledged_by=None if waits else "Ann",
    )


def _messages(alarm: "Alarm") -> Iterator[object]:
    from alarms.models import Event

    for number in range(MESSAGES):
        at = alarm.raised_at + number * timedelta(minutes=5)
        yield Event(
            facility_id=alarm.facility_id,
            source="console",
            source_event_id=f"{alarm.pk}-{number}",
            received_from_id=alarm.facility.operator_id,
            entered_by="gateway",
            device=alarm.device,
            condition=alarm.condition,
            signal="cleared" if number % 2 else "raised",
            occurred_at=at,
            received_at=at + timedelta(seconds=2),
            content_sha256="0" * 64,
            alarm=alarm,
        )


def _note_sources() -> None:
    """As the migration does that made the table."""
    from alarms.models import Alarm
    from alarms.services.alarm_sources import count_sources

    count_sources(list(Alarm.objects.values_list("pk", flat=True)))


def _analyse() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _peak(work: Callable[[], object]) -> float:
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / 1e6


if __name__ == "__main__":
    arguments = [int(one) for one in sys.argv[1:]]
    sys.exit(main(*arguments, *[200_000, 3][len(arguments) :]))

"""Seconds for the figures of 10,000 alarms, the list of marks and one facility's page, beside a floor in the same run.

    uv run python -m tests.benchmarks.alarm_figures [alarms] [rounds]

A database of its own. The floor only fetches the rows that the figures are made of, through the driver, and computes
nothing. The median round counts. Ends with 1 where the figures take longer than 5 s.
"""

import sys
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from random import Random
from statistics import median
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from alarms.models import Alarm
    from equipment.models import Facility, Organisation

FACILITIES = 200
DAYS = 360
AT_MOST_S = 5.0


def main(alarms: int, rounds: int) -> int:
    """Fill, ask, print; 1 when it takes too long."""
    from tests.faults.scratch import scratch_database

    with scratch_database():
        operator = _fill(alarms)
        seconds = {name: _median(work, rounds) for name, work in _asked(operator)}
    print(f"{alarms} alarms at {FACILITIES} facilities over {DAYS} days, median of {rounds} rounds")
    for name, took in seconds.items():
        print(f"{name:>40}: {took:6.2f} s")
    return 0 if seconds["figures of all of them"] <= AT_MOST_S else 1


def _median(work: Callable[[], object], rounds: int) -> float:
    work()
    return median(_timed(work) for _ in range(rounds))


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _asked(operator: "Organisation") -> Iterator[tuple[str, Callable[[], object]]]:
    from django.conf import settings

    from tests import world
    from tests.conftest import client_of

    settings.SECURE_SSL_REDIRECT = False
    settings.ALLOWED_HOSTS = ["testserver"]
    client = client_of(operator)
    whole = {"from": str(world.TODAY - timedelta(days=DAYS)), "until": str(world.TODAY)}
    one = operator.facilities.earliest("pk")

    def get(path: str, **asked: str) -> Callable[[], object]:
        def call() -> None:
            answer = client.get(f"/api/v1/{path}", asked)
            if answer.status_code != 200:
                raise SystemExit(f"unexpected: {answer.status_code} {answer.content[:500]!r}")

        return call

    yield "floor: fetching their rows", _floor
    yield "figures of all of them", get("alarms/figures", **whole)
    yield "figures and a window of 30 days a week", get("alarms/figures", window="30d", **whole)
    yield "figures and a window of 90 days a day", get("alarms/figures", window="90d", step="1", **whole)
    yield "figures of all of them as CSV", get("alarms/figures.csv", **whole)
    yield "figures of one facility", get("alarms/figures", facility=str(one.pk), **whole)
    yield "first page of those that chatter", get("alarms", mark="chattering")
    yield "history of one facility to print", get(f"facilities/{one.pk}/alarm-history.html", **whole)


def _floor() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT id, facility_id, condition_class, raised_at, opened_at FROM alarms_alarm")
        cursor.fetchall()
        cursor.execute("SELECT alarm_id, MIN(at) FROM alarms_alarmstep GROUP BY alarm_id")
        cursor.fetchall()
        cursor.execute("SELECT alarm_id, MIN(at) FROM alarms_disposition GROUP BY alarm_id")
        cursor.fetchall()
        cursor.execute("SELECT facility_id, occurred_at FROM alarms_event WHERE signal = 'raised'")
        cursor.fetchall()


def _fill(count: int) -> "Organisation":
    """So many alarms with their messages: a fifth still waits, a quarter chatters, half have a disposition."""
    from alarms.models import Alarm, AlarmStep, Disposition, Event
    from tests import world

    random = Random(1)
    operator = world.organisation("Own Marinas")
    sites = [world.facility(operator, f"S{number}") for number in range(FACILITIES)]
    alarms = Alarm.objects.bulk_create(
        [_alarm(sites[number % FACILITIES], number, random) for number in range(count)]
    )
    Event.objects.bulk_create([Event(**one) for alarm in alarms for one in _messages(alarm)])
    AlarmStep.objects.bulk_create(
        [
            AlarmStep(
                facility_id=alarm.facility_id,
                alarm=alarm,
                kind="acknowledge",
                at=alarm.acknowledged_at,
                through=alarm.acknowledged_at,
                by="Ann",
            )
            for alarm in alarms
            if alarm.acknowledged_at
        ]
    )
    Disposition.objects.bulk_create(
        [
            Disposition(
                facility_id=alarm.facility_id,
                alarm=alarm,
                type="non-release event",
                at=alarm.raised_at + timedelta(hours=1),
                recorded_at=alarm.raised_at + timedelta(hours=1),
                recorded_by="Ann",
                submitted_by=operator,
            )
            for alarm in alarms[::2]
        ]
    )
    return operator


def _alarm(facility: "Facility", number: int, random: Random) -> "Alarm":
    from alarms.models import Alarm
    from tests.world import NOW

    at = NOW - timedelta(minutes=random.randint(1, DAYS * 24 * 60))
    fields: dict[str, Any] = {"state": "unacknowledged"}
    if random.random() < 0.8:
        answered = at + timedelta(minutes=random.randint(1, 900))
        fields = {
            "state": "normal",
            "cleared_at": at + timedelta(hours=1),
            "ended_at": max(answered, at + timedelta(hours=1)),
            "acknowledged_at": answered,
            "acknowledged_by": "Ann",
        }
    return Alarm(
        facility=facility,
        device=f"probe {number}",
        condition="low-product",
        condition_class="operating",
        priority="low",
        occurrences=random.choice([1, 1, 1, 4]),
        **dict.fromkeys(("raised_at", "opened_at", "last_raised_at", "last_turn_at", "called_from"), at),
        **fields,
    )


def _messages(alarm: "Alarm") -> Iterator[dict[str, Any]]:
    shared = {
        "facility_id": alarm.facility_id,
        "source": "console-1",
        "received_from_id": alarm.facility.operator_id,
        "entered_by": "benchmark",
        "device": alarm.device,
        "condition": alarm.condition,
        "received_at": alarm.opened_at,
        "content_sha256": "0" * 64,
        "alarm": alarm,
    }
    for turn in range(alarm.occurrences):
        at = alarm.raised_at + timedelta(seconds=25 * turn)
        yield shared | {"source_event_id": f"{alarm.pk}-{turn}", "signal": "raised", "occurred_at": at}
    if alarm.cleared_at is not None:
        over = {"signal": "cleared", "occurred_at": alarm.cleared_at}
        yield shared | {"source_event_id": f"{alarm.pk}-over", **over}


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*numbers, *(10_000, 3)[len(numbers) :]))

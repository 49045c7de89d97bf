"""Events a second through the API, beside a floor and beside the plainest view, all in one run.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.benchmarks.intake [batches] [rounds]

One web process (gunicorn, one synchronous worker), batches of 1,000 events over HTTP, a database of its own. The floor
stores the very rows that the service stored, into the same table, by COPY (PostgreSQL only) and by executemany. The
plain view is `tests.benchmarks.plain`, behind the same server. The two take turns batch by batch, so that a busy
machine slows both alike; the median batch of each counts. Ends with 1 below 3 times the plain view.
"""

import json
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from statistics import median
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from equipment.models import Facility

BATCH = 1000
AT_LEAST = 3.0
# Places that take turns in being raised and cleared, so that alarms open, are joined and end within every batch.
PLACES = 40
# Rows that a round of the floor stores.
FLOOR = 5 * BATCH


@dataclass
class Site:
    """Where the events go, the key that may send them, and when the next event happened: one a second."""

    facility: "Facility"
    secret: str
    at: datetime
    sent: int = 0

    def batch(self, size: int = BATCH) -> list[dict[str, Any]]:
        """The next events."""
        return [self._event() for _ in range(size)]

    def _event(self) -> dict[str, Any]:
        number = self.sent
        self.sent += 1
        self.at += timedelta(seconds=1)
        return {
            "id": f"{number:08}",
            "device": f"SENSOR-{number % PLACES}",
            "condition": "sump-liquid",
            "signal": "raised" if number // PLACES % 2 == 0 else "cleared",
            "occurred_at": self.at.isoformat(),
            "payload": {"channel": number % PLACES, "value": 0.5},
        }


@dataclass
class Measures:
    """Seconds a batch, by what was measured."""

    seconds: dict[str, list[float]] = field(default_factory=dict)

    def add(self, name: str, seconds: float) -> None:
        """One more batch."""
        self.seconds.setdefault(name, []).append(seconds)

    def rate(self, name: str) -> float:
        """Events a second in the median batch."""
        return BATCH / median(self.seconds[name])


def main(batches: int, rounds: int) -> int:
    """Serve, send, print; 1 when the plain view comes too close."""
    from tests.faults.scratch import scratch_database

    with scratch_database():
        measures = measure(batches, rounds)
    print(f"{rounds} rounds of {batches} batches of {BATCH} events")
    for name in measures.seconds:
        print(f"{name:>22}: {measures.rate(name):9,.0f} events/s")
    ratio = measures.rate("service") / measures.rate("plain view")
    print(f"service : plain view    {ratio:5.1f} (at least {AT_LEAST:.0f})")
    return 0 if ratio >= AT_LEAST else 1


def measure(batches: int, rounds: int) -> Measures:
    """Everything once to warm up, then in turns."""
    from tests.faults.web import serving

    site, measures = site_of(events=2 * batches * (rounds + 1) * BATCH), Measures()
    with (
        serving(variables_of("compliance.config.settings")) as service,
        serving(variables_of("tests.benchmarks.plain_settings")) as plain,
    ):
        for turn in range(rounds + 1):
            kept = measures if turn else Measures()
            for _ in range(batches):
                _service(site, service, kept)
                _plain(site, plain, kept)
            _floors(kept)
    return measures


def variables_of(settings_module: str) -> dict[str, str]:
    """Of a web server with these settings."""
    from tests.faults.processes import environment

    return environment(
        smtp_port=25,
        DJANGO_SETTINGS_MODULE=settings_module,
        PUBLIC_URL="http://127.0.0.1",
        API_RATE="1000000/min",
    )


def timed(work: Callable[[], object]) -> float:
    """Seconds of wall clock."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def site_of(*, events: int) -> Site:
    """A site with its sensors; so many events will have happened there by now."""
    from django.utils import timezone

    from tests import world
    from tests.alarms.sites import call_list, contact

    operator = world.organisation("Own Marinas")
    facility = world.facility(operator)
    world.line(facility)
    for number in range(PLACES):
        world.component(facility, "sensor", f"SENSOR-{number}", parent="SU1")
    call_list(facility, (0, [contact("Ann")]))
    now = timezone.now()
    return Site(facility, world.key(operator, now=now), now - timedelta(seconds=events))


def _service(site: Site, port: int, measures: Measures) -> None:
    body = json.dumps({"source": "console-1", "events": site.batch()}).encode()
    path = f"/api/v1/facilities/{site.facility.pk}/events"
    measures.add("service", timed(lambda: _accepted(_post(port, path, site.secret, body))))


def _plain(site: Site, port: int, measures: Measures) -> None:
    rows = [{"source": "console-2", "source_event_id": one.pop("id"), **one} for one in site.batch()]
    path = f"/plain/facilities/{site.facility.pk}/events"
    body = json.dumps(rows).encode()
    measures.add("plain view", timed(lambda: _accepted(_post(port, path, site.secret, body))))


def _post(port: int, path: str, secret: str, body: bytes) -> tuple[int, bytes]:
    from tests.faults.web import post

    return post(port, path, secret, body)


def _accepted(answer: tuple[int, bytes]) -> None:
    status, body = answer
    if status != 201 or json.loads(body)["accepted"] != BATCH:
        raise SystemExit(f"unexpected: {status} {body[:500]!r}")


def _floors(measures: Measures) -> None:
    """The rows on file once more, batch by batch, as if another console had sent them; taken out again each time."""
    from django.db import connection

    ways = {"floor, executemany": _execute_many}
    if connection.vendor == "postgresql":
        ways["floor, COPY"] = _copy
    columns, rows = _rows_on_file()
    for start in range(0, len(rows), BATCH):
        for name, store in ways.items():
            measures.add(name, timed(partial(store, columns, rows[start : start + BATCH])))
            _execute("DELETE FROM alarms_event WHERE source = 'floor'")


def _rows_on_file() -> tuple[list[str], list[tuple[Any, ...]]]:
    """Columns and the newest rows of the service, as the driver gives them; under another source."""
    from django.db import connection

    from alarms.models import Event

    columns = [str(one.column) for one in Event._meta.concrete_fields if not one.primary_key]
    place = columns.index("source")
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {', '.join(columns)} FROM alarms_event WHERE source = 'console-1' ORDER BY id DESC LIMIT {FLOOR}"
        )
        rows = [(*row[:place], "floor", *row[place + 1 :]) for row in cursor.fetchall()]
    return columns, rows


def _execute_many(columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    from django.db import connection, transaction

    places = ", ".join(["%s"] * len(columns))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO alarms_event ({', '.join(columns)}) VALUES ({places})", rows)


def _copy(columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    from django.db import connection, transaction

    with (
        transaction.atomic(),
        connection.cursor() as cursor,
        cursor.copy(f"COPY alarms_event ({', '.join(columns)}) FROM STDIN") as copy,
    ):
        for row in rows:
            copy.write_row(row)


def _execute(statement: str) -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(statement)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*numbers, *(10, 3)[len(numbers) :]))

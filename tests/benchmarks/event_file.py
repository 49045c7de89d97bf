"""One file of 50,000 events through the API, some of them unreadable: kept, marked, reported, nothing dropped.

    DATABASE_URL=... REDIS_URL=... SECRET_KEY=... uv run python -m tests.benchmarks.event_file [lines]

One web process, a database of its own. Prints lines a second of the first sending and of the repeat, and the memory of
the web process at its highest; ends with 1 when a line is neither an event nor an unreadable line afterwards.
"""

import json
import sys
import time
from pathlib import Path
from typing import Any

EVERY = 100


def main(lines: int) -> int:
    """Serve, send twice, count."""
    from tests.faults.scratch import scratch_database

    with scratch_database():
        return 0 if measure(lines) else 1


def measure(lines: int) -> bool:
    """Whether all is as it should be."""
    from alarms.models import Event, UnreadableLine
    from tests.benchmarks.intake import site_of, variables_of
    from tests.faults.web import serving

    site = site_of(events=lines)
    body = _file(site.batch(lines))
    print(f"{lines} lines, {len(body) / 1e6:.1f} MB, every {EVERY}th unreadable")
    with serving(variables_of("compliance.config.settings")) as port:
        first = _send("first", site, port, body, lines)
        again = _send("again", site, port, body, lines)
        print(f"  memory of the web process at most: {_peak():.0f} MB")
    bad = len(range(0, lines, EVERY))
    kept = (Event.objects.count(), UnreadableLine.objects.count())
    print(f"  on file: {kept[0]} events, {kept[1]} unreadable lines")
    print(f"  told: {first['problems_total']} problems, {len(first['problems'])} listed")
    return (
        kept == (lines - bad, bad)
        and (first["accepted"], first["unreadable"], first["problems_total"]) == (lines - bad, bad, bad)
        and (again["accepted"], again["repeated"]) == (0, lines - bad)
    )


def _file(events: list[dict[str, Any]]) -> bytes:
    rows = [
        f"noise {number}" if number % EVERY == 0 else json.dumps({"source": "console-1"} | one)
        for number, one in enumerate(events)
    ]
    return "\n".join(rows).encode()


def _send(name: str, site: Any, port: int, body: bytes, lines: int) -> dict[str, Any]:
    from tests.faults.web import post

    path = f"/api/v1/facilities/{site.facility.pk}/events/file"
    start = time.perf_counter()
    status, answer = post(port, path, site.secret, body, media_type="application/x-ndjson")
    seconds = time.perf_counter() - start
    print(f"  {name}: {status}, {lines / seconds:,.0f} lines/s ({seconds:.1f} s)")
    if status not in (200, 201):
        raise SystemExit(answer[:500])
    return dict(json.loads(answer))


def _peak() -> float:
    """The largest resident size, in MB, of a web process on our database (Linux)."""
    from tests.faults.processes import database_url

    ours, peaks = database_url().encode(), [0]
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            is_ours = ours in status.with_name("environ").read_bytes()
            words = status.read_text()
        except OSError:
            continue
        if is_ours:
            peaks += [int(line.split()[1]) for line in words.splitlines() if line.startswith("VmHWM")]
    return max(peaks) / 1024


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 50_000))

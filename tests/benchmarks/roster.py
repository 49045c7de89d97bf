"""Rows a second of the roster import, beside a floor measured in the same run.

    uv run python -m tests.benchmarks.roster [rows]

The floor reads the same file with the csv module and bulk-creates one bare facility a row: less than any import can do.
Runs on a database of its own in a temporary folder; the rows are the public sample's, under other numbers.
"""

import csv
import os
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

SAMPLE = Path(__file__).parents[1] / "equipment" / "roster" / "public-roster-sample.csv"
BATCH = 500


def main(rows: int) -> None:
    """Write the file, measure, print."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATA_DIR"] = folder
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        path = Path(folder) / "roster.csv"
        write_roster(path, rows)
        measure(path, rows)


def write_roster(path: Path, rows: int) -> None:
    """The sample again and again, each copy with facility numbers of its own."""
    with SAMPLE.open(newline="") as file:
        header, *sample = csv.reader(file)
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        for number in range(rows):
            copy, place = divmod(number, len(sample))
            writer.writerow([f"{copy}-{sample[place][0]}", *sample[place][1:]])


def measure(path: Path, rows: int) -> None:
    """Floor, first import, second import, and the memory of a dry run."""
    from datetime import UTC, datetime

    from equipment.models import Facility, Organisation
    from equipment.services.rosters import Order, import_roster, mapping_of

    now = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
    mapping = mapping_of((SAMPLE.parents[3] / MAPPING).read_bytes(), name=MAPPING)
    floor_of = Organisation.objects.create(name="Floor", kind="operator", created_at=now)
    operator = Organisation.objects.create(name="Import", kind="operator", created_at=now)

    def floor() -> None:
        with path.open(newline="") as file:
            batch = []
            for number, row in enumerate(csv.DictReader(file)):
                code = f"{number}"
                batch.append(
                    Facility(
                        operator=floor_of, code=code, name=row["facility_id"], time_zone="UTC", created_at=now
                    )
                )
                if len(batch) == BATCH:
                    Facility.objects.bulk_create(batch)
                    batch = []
            Facility.objects.bulk_create(batch)

    def run() -> None:
        order = Order(mapping=mapping, operator=operator, by="benchmark", now=now, as_of=now.date())
        with path.open("rb") as file:
            summary = import_roster(source=file, name=path.name, order=order, tell=lambda _: None)
        if summary.rows != rows or summary.refused:
            raise SystemExit(f"unexpected: {summary}")

    print(f"{rows} rows, {path.stat().st_size / 1e6:.1f} MB")
    for name, work in (("floor", floor), ("first import", run), ("same again", run)):
        seconds = timed(work)
        print(f"{name:>13}: {rows / seconds:9,.0f} rows/s ({seconds:.1f} s)")
    tracemalloc.start()
    run()
    print(f"  memory peak: {tracemalloc.get_traced_memory()[1] / 1e6:9.1f} MB (same again, traced)")


def timed(work: Callable[[], None]) -> float:
    """Seconds of wall clock."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


MAPPING = "equipment/roster/mappings/state-extract.toml"

if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)

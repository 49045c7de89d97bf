"""`manage.py compare_rulepacks OLD NEW`: what a change of the rules does, before it is put in force."""

from argparse import ArgumentParser
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import IO, Any, cast

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import track

from compliance.gather import site_documents
from compliance.management.arguments import moment
from compliance.management.showing_shifts import JsonLines, Report, Sentences, Tally
from compliance.rulepacks import load_folder, recordable
from compliance.rules.comparing import Shift, compare_findings
from compliance.rules.document import DocumentError, read_document
from compliance.rules.judging import findings_at
from compliance.rules.loading import PackError
from compliance.rules.packset import PackSet
from equipment.management.ready import require_migrated
from equipment.models import Facility

BATCH = 50
INSTALLED = "installed"

Named = tuple[str, bytes | dict[str, Any]]
"""What people call a document, and the document."""


@dataclass(frozen=True)
class Comparison:
    """The two sets of packs and the judged moment."""

    old: PackSet
    new: PackSet
    on: date

    def of(self, raw: bytes | dict[str, Any]) -> list[Shift]:
        """Judge one document twice. Raises `DocumentError` that says under which packs."""
        document = read_document(raw, activities=recordable())
        sides = []
        for name, packs in (("OLD", self.old), ("NEW", self.new)):
            try:
                sides.append(findings_at(document, packs, at=self.on, include_not_required=True))
            except DocumentError as error:
                error.add_note(name)
                raise
        return compare_findings(*sides)


class Command(BaseCommand):
    help = (
        "Judge every facility under two sets of rule packs and tell which obligations would appear, vanish or move. "
        "Nothing is written."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        packs = f"a folder of pack folders, one pack folder, or `{INSTALLED}`"
        parser.add_argument("old", metavar="OLD", help=packs)
        parser.add_argument("new", metavar="NEW", help=packs)
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--facility", nargs="+", type=int, metavar="ID", help="only these; default: all")
        which.add_argument(
            "--documents", nargs="+", type=Path, metavar="FILE", help="site documents instead of the database"
        )
        parser.add_argument("--on", type=moment, help="a day (to its end) or an instant; default: now")
        parser.add_argument("--json", action="store_true", help="a line of JSON a facility, then the counts")

    def handle(self, *args: Any, old: str, new: str, **options: Any) -> None:
        comparison = Comparison(_packs(old), _packs(new), options["on"] or timezone.now())
        files, ids = options["documents"], options["facility"]
        named = _read(files) if files is not None else _gathered(ids := _facility_ids(ids))
        tally = Tally()
        report: Report = JsonLines(self.stdout) if options["json"] else Sentences(self.stdout)
        for name, raw in self._watched(named, total=len(files if files is not None else ids)):
            try:
                shifts = comparison.of(raw)
            except DocumentError as error:
                tally.refused += 1
                under = f" under {error.__notes__[0]}" if hasattr(error, "__notes__") else ""
                self.stderr.write("\n".join(f"{name}{under}: {fault}" for fault in error.faults))
                continue
            tally.count(shifts)
            report.facility(name, comparison.on, shifts)
        report.end(tally)
        if tally.refused:
            raise SystemExit(2)

    def _watched(self, named: Iterator[Named], *, total: int) -> Iterator[Named]:
        """The same, with a progress bar on a terminal."""
        console = Console(file=cast(IO[str], self.stderr._out))
        yield from track(
            named, "Judging twice", total=total, console=console, disable=not console.is_terminal
        )


def _packs(place: str) -> PackSet:
    folder = None if place == INSTALLED else Path(place)
    if folder is not None and not folder.is_dir():
        raise CommandError(f"{place} is no folder; name a folder of rule packs, or `{INSTALLED}`")
    try:
        packs = load_folder(folder)
    except PackError as error:
        raise CommandError(f"{place}:\n{error}") from None
    if not packs.rules:
        raise CommandError(f"{place} holds no rules; name a folder of pack folders, or one pack folder")
    return packs


def _facility_ids(wanted: list[int] | None) -> list[int]:
    require_migrated()
    known = list(Facility.objects.order_by("pk").values_list("pk", flat=True))
    strange = sorted(set(wanted or ()) - set(known))
    if strange:
        raise CommandError(f"no facility has the id {', '.join(map(str, strange))}")
    return known if wanted is None else sorted(set(wanted))


def _gathered(ids: list[int]) -> Iterator[Named]:
    for first in range(0, len(ids), BATCH):
        for document in site_documents(ids[first : first + BATCH]).values():
            facility = document["facility"]
            name = facility.get("name")
            yield f"{facility['id']} {name}" if name else facility["id"], document


def _read(files: list[Path]) -> Iterator[Named]:
    for file in files:
        try:
            yield str(file), file.read_bytes()
        except OSError as error:
            raise CommandError(f"{file}: {error.strerror}") from None

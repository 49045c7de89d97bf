"""`manage.py import_roster FILE.csv`: a state's list of tanks into the register of one operator."""

import os
from argparse import ArgumentTypeError
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import date
from pathlib import Path
from typing import IO, Any, cast

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from equipment.faults import Refusal
from equipment.management.ready import require_migrated
from equipment.models import Organisation
from equipment.roster.elements import FACILITY
from equipment.roster.mapping import RosterMapping
from equipment.roster.mapping_file import MappingError, shipped_mappings
from equipment.roster.reading import RosterError
from equipment.roster.report import CsvReport, JsonReport, RowReport, Summary
from equipment.services.rosters import Order, day_of_roster, import_roster, mapping_of
from equipment.vocabulary import OrganisationKind

SHOWN_REMARKS = 10


class Command(BaseCommand):
    help = (
        "Import a roster of tanks (CSV). New facilities and tanks are added; what is on file is compared and left as "
        "it is, unless --update is given. The same file again changes nothing. Every row is in the report."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """The file, how to read it, whose it is, and what may happen."""
        shipped = ", ".join(shipped_mappings())
        parser.add_argument("file", type=Path, help="the roster, CSV with a header")
        parser.add_argument("--mapping", required=True, help=f"a TOML file, or one of: {shipped}")
        parser.add_argument("--operator", required=True, help="name of the operator organisation")
        parser.add_argument("--as-of", type=_day, help="day of the roster, 2026-02-27 (default: today)")
        parser.add_argument(
            "--set",
            action="append",
            default=[],
            type=_constant,
            metavar="FIELD=VALUE",
            help="a facility constant, before that of the mapping: time_zone=America/New_York",
        )
        parser.add_argument("--dry-run", action="store_true", help="report what would happen; store nothing")
        parser.add_argument("--update", action="store_true", help="apply what differs from the register")
        parser.add_argument("--report-json", type=Path, help="write every row and the summary here")
        parser.add_argument("--report-csv", type=Path, help="write one line a remark here")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        """Read, import, report. Fails only when the file as a whole cannot be used."""
        require_migrated()
        try:
            order = self._order(options)
            with ExitStack() as stack:
                source = stack.enter_context(file.open("rb"))
                remarks = _Remarks(stack, options["report_json"], options["report_csv"])
                remarks.advance = stack.enter_context(self._progress(source))
                summary = import_roster(source=source, name=str(file), order=order, tell=remarks.add)
                remarks.close(summary)
        except (OSError, MappingError, RosterError) as error:
            raise CommandError(str(error)) from error
        except Refusal as refusal:
            raise CommandError(
                "; ".join(fault.detail for fault in refusal.faults) or refusal.detail
            ) from refusal
        self._show(summary, remarks, order)

    def _order(self, options: dict[str, Any]) -> Order:
        now = timezone.now()
        mapping = _mapping(options["mapping"], dict(options["set"]))
        return Order(
            mapping=mapping,
            operator=_operator(options["operator"]),
            by="import_roster",
            now=now,
            as_of=day_of_roster(mapping, options["as_of"], now=now),
            dry_run=options["dry_run"],
            update=options["update"],
        )

    @contextmanager
    def _progress(self, source: IO[bytes]) -> Iterator[Callable[[], None]]:
        """A bar by bytes read, on a terminal only."""
        console = Console(file=cast(IO[str], self.stderr._out))
        columns = TextColumn("{task.description}"), BarColumn(), DownloadColumn(), TimeRemainingColumn()
        with Progress(*columns, console=console, disable=not console.is_terminal) as progress:
            task = progress.add_task("Importing", total=os.fstat(source.fileno()).st_size)
            yield lambda: progress.update(task, completed=source.tell())

    def _show(self, summary: Summary, remarks: "_Remarks", order: Order) -> None:
        console = Console(file=cast(IO[str], self.stdout._out), highlight=False, soft_wrap=True)
        title = f"{escape(order.mapping.title)}, as of {order.as_of}"
        table = Table("outcome", title=f"{title}: dry run, nothing was stored" if summary.dry_run else title)
        table.add_column("rows", justify="right")
        for outcome in ("imported", "imported_with_remarks", "unchanged", "refused", "rows"):
            table.add_row(
                outcome.replace("_", " ") if outcome != "rows" else "all", str(getattr(summary, outcome))
            )
        console.print(table)
        console.print(
            f"{summary.facilities_opened} facilities opened, {summary.components_added} components added, "
            f"{summary.facts_updated} facts updated, {summary.differing} rows differ from the register."
        )
        for note in summary.notes:
            console.print(f"Note: {note}", markup=False)
        for line in remarks.first:
            console.print(line, markup=False)
        if remarks.more:
            console.print(f"... and {remarks.more} more remarks; --report-csv FILE holds them all.")


class _Remarks:
    """Where every row goes: the report files, and the first refusals and differences for the screen."""

    def __init__(self, stack: ExitStack, json_path: Path | None, csv_path: Path | None) -> None:
        self.first: list[str] = []
        self.more = 0
        self.advance: Callable[[], None] = lambda: None
        self._reports: list[JsonReport | CsvReport] = []
        if json_path is not None:
            self._reports.append(JsonReport(stack.enter_context(json_path.open("w", encoding="utf-8"))))
        if csv_path is not None:
            opened = stack.enter_context(csv_path.open("w", encoding="utf-8", newline=""))
            self._reports.append(CsvReport(opened))

    def add(self, row: RowReport) -> None:
        self.advance()
        for report in self._reports:
            report.add(row)
        for remark in row.remarks:
            if len(self.first) < SHOWN_REMARKS:
                value = f" {remark.value!r}" if remark.value else ""
                self.first.append(f"row {row.row}, {row.outcome}: {remark.column}{value}: {remark.reason}")
            else:
                self.more += 1

    def close(self, summary: Summary) -> None:
        for report in self._reports:
            report.close(summary)


def _mapping(asked: str, constants: dict[str, Any]) -> RosterMapping:
    path = shipped_mappings().get(asked, Path(asked))
    if not path.is_file():
        raise CommandError(
            f"No mapping file {asked!r}; shipped with the project: {', '.join(shipped_mappings())}."
        )
    return mapping_of(
        path.read_bytes(), name=str(path), constants={FACILITY: constants} if constants else None
    )


def _operator(name: str) -> Organisation:
    operators = Organisation.objects.filter(kind=OrganisationKind.OPERATOR)
    found = operators.filter(name=name).first()
    if found is None:
        known = ", ".join(operators.order_by("name").values_list("name", flat=True)[:20]) or "none yet"
        raise CommandError(f"No operator organisation is called {name!r}; known: {known}.")
    return found


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text!r} is no day; write 2026-02-27") from error


def _constant(text: str) -> tuple[str, Any]:
    """`name=value`; that of `jurisdictions` is a list with commas."""
    name, equals, value = text.partition("=")
    if not equals:
        raise ArgumentTypeError(f"{text!r} is not of the form time_zone=America/New_York")
    return name, value.split(",") if name == "jurisdictions" else value

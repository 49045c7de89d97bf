"""Imports a roster of tanks, batch by batch: adds what is new, compares what is known, reports every row."""

import logging
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import IO, Any, ClassVar
from zoneinfo import ZoneInfo

from django.db import DataError, IntegrityError, transaction

from equipment.faults import Fault, Refusal, refuse
from equipment.models import Organisation
from equipment.roster.elements import EXPECTED_PARTS, FACILITY, PARTS
from equipment.roster.mapping import RosterMapping
from equipment.roster.mapping_file import read_mapping
from equipment.roster.reading import RawRow, Roster
from equipment.roster.report import Outcome, Remark, RowReport, Summary, shown
from equipment.roster.translating import TankRow, Translator, Unusable
from equipment.services.checking import MEANING
from equipment.services.register_bulk import (
    insert_components,
    insert_facilities,
    insert_statuses,
    touch_all,
)
from equipment.services.roster_elements import register_elements
from equipment.services.roster_rows import Placed, Placement
from equipment.services.roster_sites import Site, Sites
from equipment.services.roster_updates import apply

BATCH_ROWS = 500
log = logging.getLogger(__name__)
Read = TankRow | RowReport  # a row that can be placed, or one that is refused already


class TooManyRows(Refusal):
    """More rows than one request may hold."""

    status: ClassVar[int] = 413
    slug: ClassVar[str] = "too-large"
    title: ClassVar[str] = "The request is too large"


@dataclass(frozen=True, kw_only=True)
class Order:
    """One import: whose tanks, in whose name, and what may be changed.

    `as_of` is the day of the roster: what it says holds from then. `dry_run` rolls everything back; `update` applies
    what differs; `max_rows` refuses a longer file with `TooManyRows`.
    """

    mapping: RosterMapping
    operator: Organisation
    by: str
    now: datetime
    as_of: date
    dry_run: bool = False
    update: bool = False
    max_rows: int | None = None


def mapping_of(
    content: bytes, *, name: str, constants: Mapping[str, Mapping[str, Any]] | None = None
) -> RosterMapping:
    """A mapping file, checked against the register; `MappingError` with file and line otherwise."""
    return read_mapping(content, name=name, elements=register_elements(), constants=constants)


def day_of_roster(mapping: RosterMapping, stated: date | None, *, now: datetime) -> date:
    """The stated day, else today: in the mapping's time zone, or where the day ends last. Refuses a future day."""
    zone = mapping.constants.get(FACILITY, {}).get("time_zone")
    local = now.astimezone(ZoneInfo(zone)) if zone else now - timedelta(hours=12)
    if stated is not None and stated > local.date():
        refuse([Fault("/as_of", f"lies in the future; today is {local.date()}", "future")])
    return stated or local.date()


def import_roster(
    *, source: IO[bytes], name: str, order: Order, tell: Callable[[RowReport], None]
) -> Summary:
    """Import the file; every row is told once, in order, and the counts are returned.

    Batches of about 500 rows are each stored whole or not at all; a dry run or one with `max_rows` is one transaction.
    The same file again changes nothing. `RosterError` when the file as a whole cannot be used.
    """
    mapping = order.mapping
    roster = Roster(
        source,
        name=name,
        needed=mapping.needed_columns(),
        encoding=mapping.file.encoding,
        delimiter=mapping.file.delimiter,
    )
    run = _Run(order, Summary(dry_run=order.dry_run, notes=_notes(roster, mapping)), tell)
    if not order.dry_run and order.max_rows is None:
        run.take(roster)
        return run.summary
    with transaction.atomic():
        run.take(roster)
        if order.dry_run:
            transaction.set_rollback(True)
    return run.summary


def _notes(roster: Roster, mapping: RosterMapping) -> list[str]:
    read = {*mapping.needed_columns(), *mapping.ignored}
    unread = [column for column in roster.columns if column not in read]
    fed = {name.partition(".")[0] for name in mapping.fed()}
    missing = [PARTS[part].label for part in EXPECTED_PARTS if part not in fed]
    notes = []
    if unread:
        notes.append(f"Columns that the mapping does not read: {', '.join(unread)}.")
    if missing:
        notes.append(
            f"The mapping feeds nothing about: {', '.join(missing)}. Register them, or no duty about them will show."
        )
    return notes


@dataclass
class _Stored:
    """What one batch came to, known only once it is stored."""

    reports: list[RowReport] = field(default_factory=list)
    facilities: int = 0
    components: int = 0
    updates: int = 0


class _Run:
    def __init__(self, order: Order, summary: Summary, tell: Callable[[RowReport], None]) -> None:
        self.order = order
        self.summary = summary
        self._tell = tell
        self._translator = Translator(order.mapping, register_elements(), as_of=order.as_of)
        self._seen: dict[tuple[str, str], int] = {}

    def take(self, roster: Roster) -> None:
        for batch in _batches(self._read(raw) for raw in roster):
            stored = self._store(batch)
            for report in stored.reports:
                self.summary.count(report)
                self._tell(report)
            self.summary.facilities_opened += stored.facilities
            self.summary.components_added += stored.components
            self.summary.facts_updated += stored.updates
            limit = self.order.max_rows
            if limit is not None and self.summary.rows > limit:
                raise TooManyRows(f"One request takes {limit} rows; use the command import_roster for more.")

    def _read(self, raw: RawRow) -> Read:
        identity = self.order.mapping.identity
        names = raw.cells.get(identity.facility, ""), raw.cells.get(identity.tank, "")
        if raw.fault is not None:
            return _refused(raw.number, names, Remark(raw.column, shown(raw.value), raw.fault))
        try:
            row = self._translator.translate(raw)
        except Unusable as error:
            return _refused(raw.number, names, error.remark)
        first = self._seen.setdefault((row.facility, row.suffix), row.number)
        if first != row.number:
            reason = f"the tank stands in row {first} already; the first one counts"
            return _refused(raw.number, names, Remark(identity.tank, shown(row.tank), reason))
        return row

    def _store(self, batch: list[Read]) -> _Stored:
        """The batch in one transaction; when the database refuses it, facility by facility: one harms only itself."""
        try:
            with transaction.atomic():
                return self._store_together(batch)
        except (IntegrityError, DataError):
            whole = _Stored()
        for _, rows in groupby(batch, key=lambda one: one.facility):
            group = list(rows)
            try:
                with transaction.atomic():
                    part = self._store_together(group)
            except (IntegrityError, DataError) as error:
                remark = Remark("", "", f"the register refused its facility: {_meaning(error)}")
                part = _Stored([_refused(*_names(row), remark) for row in group])
            whole.reports += part.reports
            whole.facilities += part.facilities
            whole.components += part.components
            whole.updates += part.updates
        return whole

    def _store_together(self, batch: list[Read]) -> _Stored:
        order, rows = self.order, [row for row in batch if isinstance(row, TankRow)]
        numbers = {row.facility for row in rows}
        prefix = order.mapping.identity.code_prefix
        sites = Sites(order.operator, numbers, [prefix + number for number in numbers], now=order.now)
        placement = Placement(
            mapping=order.mapping,
            columns=self._translator.column_of,
            operator=order.operator,
            sites=sites,
            by=order.by,
            now=order.now,
            as_of=order.as_of,
        )
        drafts = [row if isinstance(row, RowReport) else _placed(placement, row) for row in batch]
        stored = self._insert(list(sites))
        for draft in drafts:
            if isinstance(draft, RowReport):
                stored.reports.append(draft)
            else:
                report, updates = self._settled(draft)
                stored.reports.append(report)
                stored.updates += updates
        return stored

    def _insert(self, sites: list[Site]) -> _Stored:
        fresh = [site.facility for site in sites if site.is_new]
        components = [one for site in sites for one in site.added]
        insert_facilities(facilities=fresh, by=self.order.by, now=self.order.now)
        insert_components(components=components)
        insert_statuses(changes=[change for site in sites for change in site.added_statuses])
        touch_all([site.facility.pk for site in sites if site.added])
        return _Stored(facilities=len(fresh), components=len(components))

    def _settled(self, placed: Placed) -> tuple[RowReport, int]:
        """The row's report, after applying what differs where that was asked for."""
        order, remarks, updates = self.order, list(placed.remarks), 0
        for difference in placed.differences:
            if not order.update:
                remarks.append(difference.remark())
                continue
            remark, done = apply(difference, placed.row, by=order.by, now=order.now, as_of=order.as_of)
            remarks.append(remark)
            updates += done
        changed = placed.added or updates > 0
        outcome = Outcome.UNCHANGED
        if changed:
            outcome = Outcome.REMARKS if remarks else Outcome.IMPORTED
        row = placed.row
        return RowReport(
            row.number,
            outcome,
            row.facility,
            row.tank,
            tuple(remarks),
            differs=len(placed.differences) > updates,
        ), updates


def _meaning(error: IntegrityError | DataError) -> str:
    """What the database refused, in words. Its own words name tables and values: they go to the log."""
    log.warning("the database refused a facility of a roster", exc_info=error)
    named = [meaning for name, (_, meaning) in MEANING.items() if name in str(error)]
    if named:
        return named[0]
    if "unique" in str(error).lower():
        return "the same code or tag was added by somebody else meanwhile; import the file again"
    return "a value does not fit its column; look at the longest texts and the largest numbers"


def _placed(placement: Placement, row: TankRow) -> Placed | RowReport:
    try:
        return placement.place(row)
    except Unusable as error:
        return _refused(row.number, (row.facility, row.tank), error.remark)


def _refused(number: int, names: tuple[str, str], remark: Remark) -> RowReport:
    facility, tank = names
    return RowReport(number, Outcome.REFUSED, shown(facility), shown(tank), (remark,))


def _names(row: Read) -> tuple[int, tuple[str, str]]:
    number = row.number if isinstance(row, TankRow) else row.row
    return number, (row.facility, row.tank)


def _batches(rows: Iterator[Read]) -> Iterator[list[Read]]:
    """About 500 rows each; the rows of one facility stay together where they stand together."""
    batch: list[Read] = []
    for row in rows:
        full = len(batch) >= BATCH_ROWS and (
            row.facility != batch[-1].facility or len(batch) >= 2 * BATCH_ROWS
        )
        if full:
            yield batch
            batch = []
        batch.append(row)
    if batch:
        yield batch

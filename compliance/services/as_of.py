"""What was, or would be, said at another moment: judged from the facts on the fly. Nothing is stored.

The register itself (components and their corrections) has no instant of recording: it is taken as it is today.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Literal, NoReturn
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from compliance.gather import SiteDocument, site_documents
from compliance.models import Obligation, Standing
from compliance.rulepacks import installed_packs, law_digest
from compliance.rules.document import DocumentError, read_document
from compliance.rules.document_rows import Document
from compliance.rules.findings import Finding
from compliance.rules.judging import findings_at, judged_instant
from compliance.rules.moments import LocalCalendar
from compliance.services.obligations import late_from, row_of
from compliance.services.summary import summarise
from compliance.services.verdicts import count_open
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Facility

Known = Literal["then", "today"]


@dataclass(frozen=True)
class AsOf:
    """A moment (a day: to its end), and whose knowledge counts: what was on file by then, or what is on file today."""

    moment: date | datetime
    known: Known = "then"

    def instant(self, facility: Facility) -> datetime:
        """The moment at the facility, in UTC."""
        return judged_instant(self.moment, LocalCalendar(ZoneInfo(facility.time_zone)))

    def day(self, facility: Facility) -> date:
        """Its local day."""
        return self.instant(facility).astimezone(ZoneInfo(facility.time_zone)).date()

    def known_at(self, facility: Facility) -> datetime | None:
        """Up to when facts count; None: all that is on file."""
        return self.instant(facility) if self.known == "then" else None


class CannotJudge(Conflict):
    """What is on file cannot be judged for that moment."""

    slug = "cannot-be-judged"
    title = "The facility cannot be judged"


def cannot_judge(error: DocumentError) -> NoReturn:
    """Refuse with what is wrong in the site document."""
    raise CannotJudge(
        f"Mend what is on file, or ask for another moment: {'; '.join(str(fault) for fault in error.faults)}"
    ) from error


def documents_as_of(facilities: Collection[Facility], as_of: AsOf) -> dict[int, SiteDocument]:
    """Site documents by facility; queries for each time zone among them as `alarms.queries` says."""
    by_instant: dict[datetime | None, list[int]] = defaultdict(list)
    for facility in facilities:
        by_instant[as_of.known_at(facility)].append(facility.pk)
    documents: dict[int, SiteDocument] = {}
    for known_at, ids in by_instant.items():
        documents |= site_documents(ids, known_at=known_at)
    return documents


def document_as_of(facility: Facility, as_of: AsOf) -> Document:
    """One facility's document, read. Raises `Invalid` for a time before the facility was on file, `CannotJudge`."""
    known_at = as_of.known_at(facility)
    if known_at is not None and facility.created_at > known_at:
        detail = f"nothing was on file before {facility.created_at.isoformat()}; ask with known=today"
        refuse([Fault("/as_of", detail, "too-early")], "Nothing was known of this facility then.")
    try:
        return read_document(documents_as_of([facility], as_of)[facility.pk])
    except DocumentError as error:
        cannot_judge(error)


def _findings(
    document: Document, facility: Facility, as_of: AsOf, *, everything: bool = False
) -> list[Finding]:
    return findings_at(
        document,
        installed_packs(),
        at=as_of.instant(facility),
        known_at=as_of.known_at(facility),
        include_not_required=everything,
    )


def obligations_as_of(facility: Facility, as_of: AsOf, *, everything: bool = False) -> list[Obligation]:
    """The obligations as they stood by the rules in force then, as rows that are not stored: no id, no day of change.

    `everything`: what is not required, too.
    """
    document = document_as_of(facility, as_of)
    try:
        findings = _findings(document, facility, as_of, everything=everything)
    except DocumentError as error:
        cannot_judge(error)
    return [row_of(facility, finding, {}, now=None) for finding in findings]


def on_file(facilities: QuerySet[Facility], as_of: AsOf) -> QuerySet[Facility]:
    """Those of the facilities of which something was known by then."""
    if as_of.known == "today":
        return facilities
    there = Q(pk__in=())
    for zone in facilities.order_by("time_zone").values_list("time_zone", flat=True).distinct():
        ends = judged_instant(as_of.moment, LocalCalendar(ZoneInfo(zone)))
        there |= Q(time_zone=zone, created_at__lte=ends)
    return facilities.filter(there)


def standings_as_of(facilities: Iterable[Facility], as_of: AsOf, *, now: datetime) -> list[Standing]:
    """A row for each facility, not stored; one that cannot be judged says why and stops no other."""
    rows = list(facilities)
    documents = documents_as_of(rows, as_of)
    return [_standing(facility, documents[facility.pk], as_of, now=now) for facility in rows]


def _standing(facility: Facility, document: SiteDocument, as_of: AsOf, *, now: datetime) -> Standing:
    standing = Standing(
        facility=facility,
        facts_version=facility.facts_version,
        packs_digest=law_digest(),
        judged_at=now,
    )
    try:
        findings = _findings(read_document(document), facility, as_of)
    except DocumentError as error:
        standing.last_error = str(error)[:500]
        return standing
    summarise(standing, findings)
    count_open(standing, document)
    zone, at = ZoneInfo(facility.time_zone), as_of.instant(facility)
    late = [late_from(finding.due, zone) for finding in findings]
    standing.next_late_from = min(
        (one for one in late if one is not None and one > at.astimezone(UTC)), default=None
    )
    return standing

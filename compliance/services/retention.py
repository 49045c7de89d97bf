"""Until when each row on file must be kept. Advice: nothing here deletes anything, and nothing else does either."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from compliance.gather import record_ref
from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError
from compliance.rules.document_rows import Document
from compliance.rules.retention import KEEP, RetentionAnswer, retention
from compliance.services.as_of import AsOf, cannot_judge, document_as_of
from equipment.models import Facility

NO_RULE = "No loaded rule says how long to keep it, so keep it."
MAY_GO = (
    "As far as the loaded rules go it may be discarded. That is advice, not an order: a contract, an open case or a "
    "rule that is not loaded may want it longer. Nothing is deleted here."
)


@dataclass(frozen=True)
class Kept:
    """One row on file. `until`: its last day, over all rules; None: no end is in sight, or no rule names it."""

    subject: str
    kind: str
    about: str
    on: str | None
    answers: tuple[RetentionAnswer, ...]

    @property
    def keep(self) -> bool:
        """Whether any rule still wants it, or none names it."""
        return not self.answers or any(answer.standing == KEEP for answer in self.answers)

    @property
    def until(self) -> date | None:
        """The longest wins; one rule without an end in sight has none."""
        asking = [answer for answer in self.answers if not self.keep or answer.standing == KEEP]
        days = [answer.until for answer in asking]
        known = [day for day in days if day is not None]
        return max(known, default=None) if not self.keep or len(known) == len(days) else None

    @property
    def advice(self) -> str:
        """One sentence for whoever holds the paper."""
        if not self.answers:
            return NO_RULE
        if not self.keep:
            return MAY_GO
        return f"Keep it to {self.until}." if self.until else "Keep it; no last day is in sight."


def retention_at(facility: Facility, *, now: datetime) -> list[Kept]:
    """Every record, paper and designation on file, newest row first within its kind."""
    document = document_as_of(facility, AsOf(now, "today"))
    try:
        answers = retention(document, installed_packs(), now)
    except DocumentError as error:
        cannot_judge(error)
    by_row: dict[str, list[RetentionAnswer]] = defaultdict(list)
    for answer in answers:
        by_row[answer.subject].append(answer)
    return [
        Kept(subject, kind, about, on, tuple(by_row[subject])) for subject, kind, about, on in _rows(document)
    ]


def retention_of_record(facility: Facility, record_id: int, *, now: datetime) -> Kept:
    """One record that is on file at the facility."""
    ref = record_ref(record_id)
    return next(kept for kept in retention_at(facility, now=now) if kept.subject == ref)


def _rows(document: Document) -> Iterator[tuple[str, str, str, str | None]]:
    """Id, kind, what it is, and its day or moment."""
    for record in reversed(document.records):
        yield str(record.id), "record", record.activity, record.performed_at
    for paper in reversed(document.documents):
        yield str(paper.id), "document", paper.type, _day(paper.issued_on)
    for designation in reversed(document.designations):
        yield (
            str(designation.id),
            "designation",
            f"operator {designation.operator_class}",
            _day(designation.assumed_duties_on),
        )


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()

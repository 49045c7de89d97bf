"""What an inspector finds on a day: where every duty stood, what was late before, and what could not be shown."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

import msgspec

from compliance.rules.document_rows import Document
from compliance.rules.findings import STANDINGS, Finding
from compliance.rules.history import Late, late_history
from compliance.rules.judging import findings_at
from compliance.rules.look_back import local_day
from compliance.rules.packset import PackSet
from compliance.rules.retention import KEEP, RetentionAnswer, retention


class NotShown(msgspec.Struct, frozen=True, kw_only=True):
    """A record that the rules want on file on that day and that was not: `record` is its id where it came later.

    `recorded_at` as it stands in the document; None: never recorded, or the row does not say.
    """

    rule: str
    subject: str
    record: str | None
    recorded_at: str | None
    cite: str
    verified: str
    sentence: str


class Inspection(msgspec.Struct, frozen=True, kw_only=True):
    """`standings`: from what needs a person most to what needs nobody. `late`: of the look-back."""

    standings: list[Finding]
    late: list[Late]
    not_shown: list[NotShown]


def inspect(
    then: Document,
    today: Document,
    packs: PackSet,
    *,
    on: date | datetime,
    look_back_days: int,
    jurisdictions: Sequence[str] | None = None,
) -> Inspection:
    """The facility as it was on a day. `then`: what was on file that day; `today`: what is known now.

    Raises `DocumentError` as judging does.
    """
    found = findings_at(then, packs, at=on, look_back_days=look_back_days, jurisdictions=jurisdictions)
    findings = sorted(found, key=lambda one: STANDINGS.index(one.standing))
    since = local_day(then, on) - timedelta(days=look_back_days)
    late = late_history(then, packs, since=since, until=on, jurisdictions=jurisdictions)
    wanted = [one for one in retention(today, packs, on, jurisdictions=jurisdictions) if one.standing == KEEP]
    return Inspection(
        standings=findings,
        late=late,
        not_shown=[*_never_recorded(findings), *_recorded_later(wanted, then, today)],
    )


def _never_recorded(findings: list[Finding]) -> Iterator[NotShown]:
    for finding in findings:
        if finding.standing == "no record":
            yield NotShown(
                rule=finding.rule,
                subject=finding.subject,
                record=None,
                recorded_at=None,
                cite=finding.cite,
                verified=finding.verified,
                sentence=finding.sentence,
            )


def _recorded_later(wanted: list[RetentionAnswer], then: Document, today: Document) -> Iterator[NotShown]:
    """Rows that had to be kept that day and came on file only afterwards."""
    on_file = {row.id for rows in (then.records, then.documents, then.designations) for row in rows}
    came = {row.id: row for row in today.records}
    for answer in wanted:
        if answer.subject in on_file:
            continue
        row = came.get(answer.subject)
        recorded = None if row is None else row.recorded_at
        what = (
            answer.subject if row is None else f"{row.activity.replace('-', ' ')} of {row.performed_at[:10]}"
        )
        yield NotShown(
            rule=answer.rule,
            subject=answer.subject,
            record=answer.subject,
            recorded_at=recorded,
            cite=answer.cite,
            verified=answer.verified,
            sentence=f"{answer.title}: the {what} was not on file that day"
            f"{f'; it was recorded on {recorded[:10]}' if recorded else ''}.",
        )

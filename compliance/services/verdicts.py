"""Keeps what records come to by their own numbers: writes only what differs."""

from collections.abc import Iterable, Mapping
from typing import Any

from compliance.gather import SiteDocument
from compliance.models import RecordVerdict, Standing
from compliance.protocols import Check, Counted, Verdict
from compliance.rulepacks import law_digest
from equipment.models import Facility

_WRITTEN = (
    "outcome",
    "counted",
    "criterion",
    "measured",
    "margin",
    "missing",
    "disagreement",
    "body",
    "law_digest",
)


def keep_verdicts(facility: Facility, counted: Mapping[int, Counted]) -> None:
    """Bring the facility's verdicts in line; the caller holds the facility's lock."""
    before = {row.pk: row for row in RecordVerdict.objects.filter(record__facility=facility)}
    after = {pk: row for pk, one in counted.items() if (row := row_of(pk, one)) is not None}
    changed = [row for pk, row in after.items() if pk in before and _differs(before[pk], row)]
    RecordVerdict.objects.bulk_create([row for pk, row in after.items() if pk not in before])
    RecordVerdict.objects.bulk_update(changed, _WRITTEN, batch_size=100)
    RecordVerdict.objects.filter(pk__in=[pk for pk in before if pk not in after]).delete()


def row_of(record_id: int, counted: Counted) -> RecordVerdict | None:
    """The verdict as a row that is not stored yet; None where no protocol judges the record."""
    found = counted.verdict
    if found is None:
        return None
    return RecordVerdict(
        record_id=record_id,
        outcome=found.outcome,
        counted=counted.outcome,
        criterion=None if found.criterion is None else found.criterion.id,
        measured=found.measured,
        margin=found.margin,
        missing=list(found.missing),
        disagreement=found.disagreement,
        body=as_json(counted, found),
        law_digest=law_digest(),
    )


def as_json(counted: Counted, found: Verdict) -> dict[str, Any]:
    """The verdict as it is answered: what counts, the check that decided, and every check behind it."""
    first = found.criterion
    return {
        "outcome": found.outcome,
        "counted": counted.outcome,
        "reported": counted.reported,
        "disagreement": found.disagreement,
        "criterion": first and first.title,
        "comparison": first and first.comparison,
        "limit": first and first.value,
        "measured": found.measured,
        "margin": found.margin,
        "unit": first and first.unit,
        "rounding": found.rounding,
        "source": found.source,
        "verified": first and first.verified,
        "missing": list(found.missing),
        "notes": list(found.notes),
        "checks": [_check(each) for each in found.checks],
    }


def count_open(standing: Standing, document: SiteDocument) -> None:
    """Set how many records that stand disagree with their numbers, and how many lack some; saves nothing."""
    standing_records = list(_standing_records(document["records"]))
    standing.disagreements = sum(1 for row in standing_records if row.get("x_disagreement"))
    standing.incomplete_tests = sum(1 for row in standing_records if row.get("missing_measurements"))


def _standing_records(rows: Iterable[dict[str, Any]]) -> Iterable[dict[str, Any]]:
    known = [row for row in rows if "withdrawn" not in row]
    corrected = {row.get("supersedes") for row in known}
    return (row for row in known if row["id"] not in corrected)


def _check(each: Check) -> dict[str, Any]:
    criterion = each.criterion
    return {
        "of": each.of,
        "part": each.part,
        "holds": each.holds,
        "criterion": criterion.title,
        "comparison": criterion.comparison,
        "limit": criterion.value,
        "measured": each.measured,
        "margin": each.margin,
        "unit": criterion.unit,
        "jurisdiction": criterion.jurisdiction,
        "source": criterion.cite,
        "verified": criterion.verified,
        "missing": list(each.missing),
    }


def _differs(before: RecordVerdict, after: RecordVerdict) -> bool:
    return any(getattr(before, name) != getattr(after, name) for name in _WRITTEN)

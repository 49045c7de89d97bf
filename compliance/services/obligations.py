"""Keeps findings as obligations: writes only what differs, and tells what moved."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from compliance.models import Obligation
from compliance.rules.findings import Finding
from equipment.models import Component, Facility

Key = tuple[str, str, str]
_WRITTEN = (
    "component_id",
    "subject_kind",
    "pack",
    "title",
    "standing",
    "due_on",
    "due_at",
    "late_from",
    "cite",
    "verified",
    "finding",
)


@dataclass(frozen=True)
class Move:
    """An obligation before and after; None where it was not, or is no longer, asked for."""

    before: Obligation | None
    after: Obligation | None

    @property
    def either(self) -> Obligation:
        """Whichever there is, for what both have in common."""
        obligation = self.after or self.before
        assert obligation is not None
        return obligation


Moves = list[Move]


def keep_findings(facility: Facility, findings: Iterable[Finding], *, now: datetime) -> Moves:
    """Bring the facility's obligations in line with the findings; the caller holds the facility's lock.

    A row whose standing or due did not change but whose evidence did is written and not called a move.
    """
    before = {_key(row): row for row in Obligation.objects.filter(facility=facility)}
    components = dict(Component.objects.filter(facility=facility).values_list("tag", "pk"))
    after = {_key(row): row for row in (row_of(facility, one, components, now=now) for one in findings)}
    _write(before, after)
    keys = [*after, *(key for key in before if key not in after)]
    moves = [Move(before=before.get(key), after=after.get(key)) for key in keys]
    return [move for move in moves if _place(move.before) != _place(move.after)]


def _write(before: dict[Key, Obligation], after: dict[Key, Obligation]) -> None:
    changed = []
    for key, row in after.items():
        old = before.get(key)
        if old is not None:
            row.pk = old.pk
            if any(getattr(old, name) != getattr(row, name) for name in _WRITTEN):
                changed.append(row)
    Obligation.objects.bulk_create([row for key, row in after.items() if key not in before])
    Obligation.objects.bulk_update(changed, [*_WRITTEN, "changed_at"], batch_size=200)
    Obligation.objects.filter(pk__in=[row.pk for key, row in before.items() if key not in after]).delete()


def row_of(
    facility: Facility, finding: Finding, components: Mapping[str, int], *, now: datetime | None
) -> Obligation:
    """The finding as a row that is not stored yet; `now` None: one that never will be."""
    due = finding.due
    at = due if isinstance(due, datetime) else None
    row = Obligation(
        facility=facility,
        component_id=components.get(finding.subject),
        rule=finding.rule,
        subject=finding.subject,
        subject_kind=finding.subject_kind,
        party=finding.party or "",
        pack=finding.pack,
        title=finding.title,
        standing=finding.standing,
        due_on=due if at is None else None,
        due_at=at,
        late_from=late_from(due, ZoneInfo(facility.time_zone)),
        cite=finding.cite,
        verified=finding.verified,
        finding=as_json(finding),
    )
    if now is not None:
        row.changed_at = now
    return row


def late_from(due: date | datetime | None, zone: ZoneInfo) -> datetime | None:
    """The first moment that is late. A day is in time to its end; an instant is in time at that very instant."""
    if due is None:
        return None
    if isinstance(due, datetime):
        return due.astimezone(UTC)
    return datetime.combine(due + timedelta(days=1), time.min, zone).astimezone(UTC)


def as_json(finding: Finding) -> Any:
    """The finding as plain JSON, without the count of days late: it grows by itself and is computed when read."""
    plain = msgspec.to_builtins(finding)
    del plain["days_late"]
    return plain


def _key(row: Obligation) -> Key:
    return row.rule, row.subject, row.party


def _place(row: Obligation | None) -> tuple[Any, ...] | None:
    return None if row is None else (row.standing, row.due_on, row.due_at)

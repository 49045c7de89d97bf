"""States what was done: a visit of one or many records, all or nothing. Earlier records are never altered."""

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from equipment.activities.catalogue import catalogue
from equipment.activities.definitions import Activity
from equipment.activities.measurements import check_measurements
from equipment.activities.stated_units import reckon
from equipment.faults import Conflict, Fault, no_component, refuse
from equipment.models import (
    Component,
    ConflictingReport,
    Facility,
    Organisation,
    Person,
    Record,
    RecordAttachment,
    RecordSubject,
)
from equipment.moments import Moment
from equipment.queries import people_known_at
from equipment.services.attachments import attachments_named, unusable
from equipment.services.facts import lock_facility, touch


@dataclass(frozen=True, kw_only=True)
class Deed:
    """One thing done, as reported. `subjects` are tags; without them it is about the `person`, a number, or, without
    that either, about the whole facility. `supersedes` is a record's id, `attachments` are numbers of files.
    """

    activity: str
    performed: Moment
    subjects: tuple[str, ...] = ()
    person: int | None = None
    outcome: str | None = None
    measurements: Mapping[str, Any] = field(default_factory=dict)
    performer: str | None = None
    technician: str | None = None
    certificate: str | None = None
    regarding: str | None = None
    note: str | None = None
    external_id: str | None = None
    supersedes: int | None = None
    attachments: tuple[int, ...] = ()

    def content(self) -> dict[str, Any]:
        """The report as plain JSON. One without attachments reads as before there were any: it is a repeat still."""
        stated = asdict(self) | {"performed": str(self.performed)}
        if not self.attachments:
            del stated["attachments"]
        return stated

    def sha256(self) -> str:
        """The same for the same content, whatever the order of its keys."""
        return hashlib.sha256(json.dumps(self.content(), sort_keys=True).encode()).hexdigest()


class ExternalIdReused(Conflict):
    """An external id came again with other content."""

    slug = "external-id-reused"
    title = "This external_id was used for other content"

    def __init__(self, record: Record, deed: Deed, position: int) -> None:
        super().__init__(
            "The first report stands and this one is kept beside it, visible to both organisations. "
            "To correct a record, send it with a new external_id and `supersedes`.",
            [Fault(f"/records/{position}/external_id", f"is the id of record {record.pk}", "reused")],
            record=record.pk,
        )
        self.record = record
        self.deed = deed


@dataclass(frozen=True)
class Visit:
    """What a submission left on file, in the order sent; `repeated` counts those that were there already."""

    records: list[Record]
    repeated: int


@transaction.atomic
def record_visit(
    *, facility: Facility, submitted_by: Organisation, entered_by: str, deeds: Sequence[Deed], now: datetime
) -> Visit:
    """Put every deed on file, or none. A deed with a known external id and the same content changes nothing.

    Raises `Invalid` with a pointer to each fault, `ExternalIdReused` when the content differs.
    """
    facility = lock_facility(facility.pk)
    components = _named_components(facility, deeds)
    people = _named_people(facility, submitted_by, deeds)
    files = attachments_named(facility, [number for deed in deeds for number in deed.attachments])
    refuse(
        [
            *_faults(facility, deeds, components, people, now=now),
            *(
                fault
                for position, deed in enumerate(deeds)
                for fault in unusable(files, deed.attachments, f"/records/{position}/attachments")
            ),
        ]
    )
    earlier = _earlier(facility, submitted_by, deeds)
    records: list[Record] = []
    for position, deed in enumerate(deeds):
        known = earlier.get(deed.external_id or "")
        if known is None:
            records.append(
                _store(deed, facility=facility, submitted_by=submitted_by, entered_by=entered_by, now=now)
            )
        elif known.content_sha256 == deed.sha256():
            records.append(known)
        else:
            raise ExternalIdReused(known, deed, position)
    fresh = [(record, deed) for record, deed in zip(records, deeds, strict=True) if record.pk is None]
    _insert(fresh, components)
    if fresh:
        touch(facility.pk)
    return Visit(records=records, repeated=len(records) - len(fresh))


def keep_conflict(refusal: ExternalIdReused, *, entered_by: str, now: datetime) -> ConflictingReport:
    """File the refused report beside the record it contradicts; the same one again is filed once."""
    report, _ = ConflictingReport.objects.get_or_create(
        record=refusal.record,
        sha256=refusal.deed.sha256(),
        defaults={"content": refusal.deed.content(), "received_at": now, "entered_by": entered_by},
    )
    return report


@transaction.atomic
def withdraw_record(*, record: Record, reason: str, by: str, now: datetime) -> Record:
    """Take out a record that should never have been stated. It stays readable with the reason; it no longer counts."""
    lock_facility(record.facility_id)
    taken = Record.objects.filter(pk=record.pk, withdrawn_at=None).update(
        withdrawn_at=now, withdrawn_reason=reason, withdrawn_by=by
    )
    record.refresh_from_db()
    if not taken and record.withdrawn_reason != reason:
        raise Conflict(f"The record was withdrawn already, because: {record.withdrawn_reason}")
    if taken:
        touch(record.facility_id)
    return record


def _named_components(facility: Facility, deeds: Sequence[Deed]) -> dict[str, Component]:
    tags = {tag for deed in deeds for tag in deed.subjects}
    return {one.tag: one for one in Component.objects.filter(facility=facility, tag__in=tags)}


def _named_people(facility: Facility, submitted_by: Organisation, deeds: Sequence[Deed]) -> set[int]:
    numbers = {deed.person for deed in deeds if deed.person is not None}
    known = people_known_at(facility, submitted_by) if numbers else Person.objects.none()
    return set(known.filter(pk__in=numbers).values_list("pk", flat=True))


def _earlier(facility: Facility, submitted_by: Organisation, deeds: Sequence[Deed]) -> dict[str, Record]:
    ids = [deed.external_id for deed in deeds if deed.external_id]
    found = Record.objects.filter(facility=facility, submitted_by=submitted_by, external_id__in=ids)
    return {str(record.external_id): record for record in found}


def _faults(
    facility: Facility,
    deeds: Sequence[Deed],
    components: Mapping[str, Component],
    people: Collection[int],
    *,
    now: datetime,
) -> Iterator[Fault]:
    zone = ZoneInfo(facility.time_zone)
    used = Counter(deed.external_id for deed in deeds if deed.external_id)
    replaceable = _replaceable(facility, deeds)
    for position, deed in enumerate(deeds):
        place = f"/records/{position}"
        activity = catalogue().get(deed.activity)
        if activity is None:
            yield Fault(
                f"{place}/activity",
                f"{deed.activity!r} is not in the catalogue; GET /api/v1/activities",
                "unknown",
            )
        else:
            yield from (
                fault.under(f"{place}/measurements")
                for fault in check_measurements(activity, deed.measurements)
            )
            yield from _subject_faults(activity, deed, components, place)
            yield from _person_faults(activity, deed, people, place)
        if deed.performed.is_after(now, zone):
            yield Fault(f"{place}/performed_at", "lies in the future; a record says what was done", "future")
        if deed.external_id and used[deed.external_id] > 1:
            yield Fault(f"{place}/external_id", "stands twice in this visit", "repeated")
        if deed.supersedes is not None and deed.supersedes not in replaceable:
            yield Fault(f"{place}/supersedes", "no record here with this id that still stands", "unknown")


def _replaceable(facility: Facility, deeds: Sequence[Deed]) -> set[int]:
    """Records that may still be superseded; one already replaced by the very same report is a repeat, not a fault."""
    wanted = [deed.supersedes for deed in deeds if deed.supersedes is not None]
    repeats = Q(superseded_by__external_id__in=[deed.external_id for deed in deeds if deed.external_id])
    rows = Record.objects.filter(
        Q(superseded_by=None) | repeats, facility=facility, pk__in=wanted, withdrawn_at=None
    )
    return set(rows.values_list("pk", flat=True))


def _subject_faults(
    activity: Activity, deed: Deed, components: Mapping[str, Component], place: str
) -> Iterator[Fault]:
    allowed = ", ".join(activity.subjects)
    if not deed.subjects and deed.person is None and "facility" not in activity.subjects:
        yield Fault(f"{place}/subjects", f"name what it was done to, by tag: {allowed}", "missing")
    for index, tag in enumerate(deed.subjects):
        component = components.get(tag)
        if component is None:
            yield no_component(f"{place}/subjects/{index}", tag)
        elif component.kind not in activity.subjects:
            yield Fault(
                f"{place}/subjects/{index}",
                f"{tag} is a {component.get_kind_display()}; this activity is about: {allowed}",
                "wrong-kind",
            )


def _person_faults(activity: Activity, deed: Deed, people: Collection[int], place: str) -> Iterator[Fault]:
    if deed.person is None:
        return
    if "person" not in activity.subjects:
        detail = f"this activity is not about a person but about: {', '.join(activity.subjects)}"
        yield Fault(f"{place}/person", detail, "wrong-kind")
    elif deed.person not in people:
        detail = "no such person; name one of your own organisation, or one designated at this facility"
        yield Fault(f"{place}/person", detail, "unknown")


def _store(
    deed: Deed, *, facility: Facility, submitted_by: Organisation, entered_by: str, now: datetime
) -> Record:
    """The row of a deed, not yet written."""
    reckoned = reckon(catalogue()[deed.activity], deed.measurements)
    return Record(
        facility=facility,
        activity=deed.activity,
        person_id=deed.person,
        performed_on=deed.performed.local_day(ZoneInfo(facility.time_zone)),
        performed_at=deed.performed.instant,
        recorded_at=now,
        submitted_by=submitted_by,
        entered_by=entered_by,
        performer=deed.performer,
        technician=deed.technician,
        certificate=deed.certificate,
        outcome=deed.outcome,
        measurements=reckoned.values,
        stated_units=reckoned.stated or None,
        regarding=deed.regarding,
        note=deed.note,
        external_id=deed.external_id,
        content_sha256=deed.sha256(),
        supersedes_id=deed.supersedes,
    )


def _insert(fresh: Sequence[tuple[Record, Deed]], components: Mapping[str, Component]) -> None:
    Record.objects.bulk_create([record for record, _ in fresh])
    RecordSubject.objects.bulk_create(
        [
            RecordSubject(record=record, component=components[tag])
            for record, deed in fresh
            for tag in dict.fromkeys(deed.subjects)
        ]
    )
    RecordAttachment.objects.bulk_create(
        [
            RecordAttachment(record=record, attachment_id=number)
            for record, deed in fresh
            for number in dict.fromkeys(deed.attachments)
        ]
    )

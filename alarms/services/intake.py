"""Takes in what devices say: every message is kept, and each moves the alarm it belongs to."""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from django.db import transaction

from alarms.conditions import condition_or_unlisted, conditions, plausible_delay
from alarms.matching import Effect, Key, Signal, Stamp, stamped
from alarms.models import Event
from alarms.queries import raised_by
from alarms.services import episodes
from alarms.services.adopting import adopt
from alarms.services.alarm_sources import note_source
from alarms.services.episode_rows import write
from alarms.services.event_rows import keep_events
from alarms.services.registered import Registered, registered_at
from alarms.timeline import Heard
from alarms.timeline_remarks import Placement, placement_of
from alarms.timeline_rows import Work
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Facility, Organisation
from equipment.moments import CLOCK_SKEW
from equipment.services.facts import lock_facility, touch
from equipment.vocabulary import Kind

MAX_EVENTS = 1000
# Made once: a call of json.dumps with an option makes one each time.
_CANONICAL = json.JSONEncoder(sort_keys=True)
CONTRADICTS = "conflicts with an earlier message of the same id, which stands"


@dataclass(frozen=True, kw_only=True)
class Report:
    """One message as sent. `device` empty: the facility as a whole. `id` is the source's own."""

    source: str
    id: str
    device: str
    condition: str
    signal: Signal
    occurred_at: datetime
    payload: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def sha256(self) -> str:
        """The same for the same content, whatever the order of its keys."""
        content = [self.device, self.condition, self.signal, self.occurred_at.isoformat(), dict(self.payload)]
        return hashlib.sha256(_CANONICAL.encode(content).encode()).hexdigest()


@dataclass(frozen=True, kw_only=True)
class Intake:
    """What a batch did: ids of alarms by what happened to them; remarks and conflicts point into the batch."""

    accepted: int
    repeated: int
    opened: list[int]
    joined: list[int]
    cleared: list[int]
    remarks: list[Fault]
    conflicts: list[Fault]


class EventIdReused(Conflict):
    """A source used one id for two different messages."""

    slug = "event-id-reused"
    title = "An event id was used for other content"

    def __init__(self, intake: Intake) -> None:
        super().__init__(
            "The first message stands and the later one is kept beside it: a raise moved its alarm all the same, a "
            "clear cleared nothing. All other events of this request were taken in. Give each message an id of its "
            "own, and send the clears named in errors again.",
            intake.conflicts,
            accepted=intake.accepted,
            repeated=intake.repeated,
        )


@dataclass
class _Batch:
    """A batch by what is already on file: what is new, how many are repeats, and what contradicts an earlier one.

    `contradicting` are those of the conflicts that are not on file themselves.
    """

    fresh: dict[int, Report] = field(default_factory=dict)
    conflicts: dict[int, Report] = field(default_factory=dict)
    contradicting: dict[int, Report] = field(default_factory=dict)
    repeated: int = 0

    @property
    def moving(self) -> dict[int, Report]:
        """What moves an alarm: all that is new, except that a contradicting clear clears nothing."""
        raises = {at: one for at, one in self.contradicting.items() if one.signal == Signal.RAISED}
        return self.fresh | raises


@dataclass
class _Filed:
    """The sender's earlier messages of the ids in a batch: those that stand, and the content of those that do not."""

    firsts: dict[tuple[str, str], Event] = field(default_factory=dict)
    beside: set[tuple[str, str, str]] = field(default_factory=set)


@dataclass
class _Placed:
    """Where one new message went, and by which moment."""

    key: Key
    stamp: Stamp
    placement: Placement
    remarks: list[Fault]


@dataclass(frozen=True)
class _Sender:
    facility: Facility
    organisation: Organisation
    entered_by: str
    now: datetime


def receive_events(
    *, facility: Facility, source_org: Organisation, entered_by: str, events: Sequence[Report], now: datetime
) -> Intake:
    """Keep every message and move the alarms; a repeat changes nothing. All or nothing where the form is wrong.

    Raises `Invalid` with a pointer to each fault. An id used twice does not hold up the rest: the later message is kept
    with a remark and named in `conflicts`, for the doorway to answer `EventIdReused`; a raise still moves its alarm.
    """
    refuse(_form_faults(events))
    with transaction.atomic():
        locked = lock_facility(facility.pk)
        return _take_in(_Sender(locked, source_org, entered_by, now), events)


def _form_faults(events: Sequence[Report]) -> Iterator[Fault]:
    if not 1 <= len(events) <= MAX_EVENTS:
        yield Fault("/events", f"1 to {MAX_EVENTS} events a request; this has {len(events)}", "count")


def _take_in(sender: _Sender, events: Sequence[Report]) -> Intake:
    filed = _filed(sender, events)
    batch = _sort_out(events, filed)
    placed, opened = _place(sender, batch.moving)
    for at in placed.keys() & batch.contradicting.keys():
        detail = f"{CONTRADICTS}; it is a raise and moved its alarm all the same"
        placed[at].remarks.insert(0, Fault(f"/events/{at}/id", detail, "reused"))
    firsts = {at: _row(sender, report, placed[at]) for at, report in batch.fresh.items()}
    keep_events(list(firsts.values()), with_ids=bool(batch.contradicting))
    standing = filed.firsts | {(row.source, row.source_event_id): row for row in firsts.values()}
    later = []
    for at, report in batch.contradicting.items():
        row = _row(sender, report, placed.get(at))
        row.conflicts_with = standing[report.source, report.id]
        later.append(row)
    Event.objects.bulk_create(later)
    return _intake(batch, placed, opened)


def _filed(sender: _Sender, events: Sequence[Report]) -> _Filed:
    rows = Event.objects.filter(
        facility=sender.facility,
        received_from=sender.organisation,
        source__in={report.source for report in events},
        source_event_id__in={report.id for report in events},
    )
    filed = _Filed()
    for row in rows:
        if row.conflicts_with_id is None:
            filed.firsts[row.source, row.source_event_id] = row
        else:
            filed.beside.add((row.source, row.source_event_id, row.content_sha256))
    return filed


def _sort_out(events: Sequence[Report], filed: _Filed) -> _Batch:
    known = {name: row.content_sha256 for name, row in filed.firsts.items()}
    beside = set(filed.beside)
    batch = _Batch()
    for position, report in enumerate(events):
        name, sha256 = (report.source, report.id), report.sha256
        if name not in known:
            known[name] = sha256
            batch.fresh[position] = report
        elif known[name] == sha256:
            batch.repeated += 1
        else:
            batch.conflicts[position] = report
            if (*name, sha256) not in beside:
                beside.add((*name, sha256))
                batch.contradicting[position] = report
    return batch


def _place(sender: _Sender, moving: Mapping[int, Report]) -> tuple[dict[int, _Placed], list[int]]:
    """Count every message that moves an alarm, and store the alarms; the second answer: ids of those that are new."""
    if not moving:
        return {}, []
    registered = registered_at(sender.facility)
    adopt(sender.facility, registered, now=sender.now)
    keys = {position: _key(one, registered) for position, one in moving.items()}
    stamps = {position: _stamp(sender, one, keys[position], registered) for position, one in moving.items()}
    heard: dict[Key, list[Heard]] = defaultdict(list)
    for position, one in moving.items():
        stamp = stamps[position]
        heard[keys[position]].append(Heard(stamp.at, one.signal, stamp.doubt is not None, _ref(position)))
    works = episodes.move(sender.facility, heard, now=sender.now)
    write(sender.facility, works, now=sender.now)
    placements = _placements(works)
    placed = {}
    for position, report in moving.items():
        row = _Placed(keys[position], stamps[position], placements[_ref(position)], [])
        row.remarks.extend(_remarks(f"/events/{position}", report, row, registered))
        placed[position] = row
    raised = set(_raised(placed, moving))
    _touch(sender, works, raised)
    if raised:
        note_source(sender.organisation, raised, now=sender.now)
    rows = [row for work in works.values() for row in work.rows]
    return placed, [row.number for row in rows if row.before is None]


def _key(report: Report, registered: Registered) -> Key:
    day = report.occurred_at.astimezone(registered.zone).date()
    return Key.of(registered.directory.find(report.device, day), report.device, report.condition)


def _ref(position: int) -> int:
    """What a message of this batch goes by while it is counted; below zero, since it has no id yet."""
    return -1 - position


def _placements(works: Mapping[Key, Work]) -> dict[int, Placement]:
    return {
        one.heard.ref: placement_of(one, work)
        for work in works.values()
        for one in work.placed
        if one.heard.ref < 0
    }


def _raised(placed: Mapping[int, _Placed], moving: Mapping[int, Report]) -> Iterator[int]:
    """Alarms that were raised, for the first time or again."""
    for position, one in placed.items():
        row = one.placement.row
        if moving[position].signal == Signal.RAISED and row:
            yield row.number


def _touch(sender: _Sender, works: Mapping[Key, Work], raised: set[int]) -> None:
    """What legal clocks hang on is a fact. That a further organisation heard of an alarm is one too: it knows now."""
    moved = any(row.moved for work in works.values() for row in work.rows)
    if moved or (raised and raised - raised_by(sender.organisation, raised)):
        touch(sender.facility.pk)


def _stamp(sender: _Sender, report: Report, key: Key, registered: Registered) -> Stamp:
    return stamped(
        report.occurred_at,
        received_at=sender.now,
        delay=plausible_delay(),
        ahead=CLOCK_SKEW,
        zone=registered.zone,
        first_day=registered.first_day(key.component),
    )


def _remarks(place: str, report: Report, placed: _Placed, registered: Registered) -> Iterator[Fault]:
    """What people should know about a message that was taken in all the same."""
    key, stamp = placed.key, placed.stamp
    if stamp.doubt is not None:
        yield Fault(
            f"{place}/occurred_at",
            f"device clock doubtful: {stamp.doubt}; kept as sent, but counted at its receipt. Set the clock",
            "future" if report.occurred_at > stamp.at else "doubtful-clock",
        )
    if key.component is None and key.device:
        yield Fault(
            f"{place}/device",
            f"no component here goes by {key.device!r}; kept under that name",
            "unknown-device",
        )
    removed = registered.removed[key.component] if key.component is not None else None
    if removed is not None and removed <= stamp.at.astimezone(registered.zone).date():
        yield Fault(f"{place}/device", f"is registered as removed on {removed}", "removed-device")
    if report.condition not in conditions():
        yield Fault(
            f"{place}/condition",
            f"{report.condition!r} is not in the catalogue (GET /api/v1/conditions); people are told, without advice",
            "unlisted-condition",
        )
    condition = condition_or_unlisted(report.condition)
    there = registered.place[key.component] if key.component is not None else None
    if there is not None and not condition.can_be_at(there):
        yield Fault(
            f"{place}/condition",
            f"{condition.title!r} is about a {' or '.join(map(_spoken, condition.at))}, and this comes from a "
            f"{_spoken(there)}; look whether the sensor is named or wired rightly",
            "odd-place",
        )
    if placed.placement.remark:
        yield Fault(place, placed.placement.remark, "order")


def _spoken(kind: str) -> str:
    return str(Kind(kind).label)


def _row(sender: _Sender, report: Report, placed: _Placed | None) -> Event:
    """The message as it is kept; `placed` None: it contradicts an earlier one and moves nothing."""
    event = Event(
        facility_id=sender.facility.pk,
        source=report.source,
        source_event_id=report.id,
        received_from_id=sender.organisation.pk,
        entered_by=sender.entered_by,
        device=report.device,
        condition=report.condition,
        signal=report.signal,
        occurred_at=report.occurred_at,
        received_at=sender.now,
        payload=dict(report.payload),
        content_sha256=report.sha256,
    )
    if placed is None:
        event.remark = CONTRADICTS
        return event
    row = placed.placement.row
    event.clock_doubtful = placed.stamp.doubt is not None
    event.component_id = placed.key.component
    event.alarm_id = row.alarm if row is not None else None
    event.remark = "; ".join(remark.detail for remark in placed.remarks)[:500] or None
    return event


def _intake(batch: _Batch, placed: Mapping[int, _Placed], opened: Sequence[int]) -> Intake:
    """The answer; an alarm that was opened and then joined or cleared is named under each."""

    def moved(effect: Effect) -> list[int]:
        found = (one.placement for one in placed.values())
        return sorted({one.row.number for one in found if one.effect == effect and one.row is not None})

    return Intake(
        accepted=len(batch.fresh),
        repeated=batch.repeated,
        opened=sorted(opened),
        joined=moved(Effect.JOINED),
        cleared=moved(Effect.CLEARED),
        remarks=[remark for position in sorted(placed) for remark in placed[position].remarks],
        conflicts=[
            Fault(f"/events/{position}/id", f"{report.id!r} was used for another message", "reused")
            for position, report in batch.conflicts.items()
        ],
    )

"""Takes in what devices say: every message is kept, and each moves the alarm it belongs to."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction

from alarms.conditions import conditions, plausible_delay
from alarms.matching import Effect, Episode, Key, Placement, Signal, Stamp, stamped
from alarms.models import Event
from alarms.services import episodes
from alarms.services.registered import Registered, registered_at
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Facility, Organisation
from equipment.moments import CLOCK_SKEW
from equipment.services.facts import lock_facility, touch

MAX_EVENTS = 1000


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

    def sha256(self) -> str:
        """The same for the same content, whatever the order of its keys."""
        content = [self.device, self.condition, self.signal, self.occurred_at.isoformat(), dict(self.payload)]
        return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


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
            "The first message stands; the later one is kept beside it and moves no alarm. All other events of this "
            "request were taken in. Send the messages named in errors again with ids of their own.",
            intake.conflicts,
            accepted=intake.accepted,
            repeated=intake.repeated,
        )


@dataclass
class _Batch:
    """A batch by what is already on file: what is new, how many are repeats, and what contradicts an earlier one."""

    fresh: dict[int, Report] = field(default_factory=dict)
    conflicts: dict[int, Report] = field(default_factory=dict)
    repeated: int = 0


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
    with a remark and named in `conflicts`, for the doorway to answer `EventIdReused`.
    """
    refuse(_form_faults(events, now=now))
    with transaction.atomic():
        locked = lock_facility(facility.pk)
        return _take_in(_Sender(locked, source_org, entered_by, now), events)


def _form_faults(events: Sequence[Report], *, now: datetime) -> Iterator[Fault]:
    if not 1 <= len(events) <= MAX_EVENTS:
        yield Fault("/events", f"1 to {MAX_EVENTS} events a request; this has {len(events)}", "count")
        return
    for position, report in enumerate(events):
        if report.occurred_at > now + CLOCK_SKEW:
            yield Fault(
                f"/events/{position}/occurred_at",
                "lies in the future; set the device's clock, or send its time with the right offset",
                "future",
            )


def _take_in(sender: _Sender, events: Sequence[Report]) -> Intake:
    earlier = _earlier(sender.facility, events)
    batch = _sort_out(events, earlier)
    placed, ids = _place(sender, batch.fresh)
    rows = {position: _row(sender, report, placed[position], ids) for position, report in batch.fresh.items()}
    Event.objects.bulk_create(rows.values())
    firsts = earlier | {(row.source, row.source_event_id): row for row in rows.values()}
    _keep_conflicts(sender, batch, firsts)
    return _intake(batch, placed, ids)


def _earlier(facility: Facility, events: Sequence[Report]) -> dict[tuple[str, str], Event]:
    rows = Event.objects.filter(
        facility=facility,
        source__in={report.source for report in events},
        source_event_id__in={report.id for report in events},
        conflicts_with=None,
    )
    return {(row.source, row.source_event_id): row for row in rows}


def _sort_out(events: Sequence[Report], earlier: Mapping[tuple[str, str], Event]) -> _Batch:
    known = {name: row.content_sha256 for name, row in earlier.items()}
    batch = _Batch()
    for position, report in enumerate(events):
        name, sha256 = (report.source, report.id), report.sha256()
        if name not in known:
            known[name] = sha256
            batch.fresh[position] = report
        elif known[name] == sha256:
            batch.repeated += 1
        else:
            batch.conflicts[position] = report
    return batch


def _place(sender: _Sender, fresh: Mapping[int, Report]) -> tuple[dict[int, _Placed], dict[Episode, int]]:
    """Match every new message in the order of its moment, and store the alarms."""
    if not fresh:
        return {}, {}
    registered = registered_at(sender.facility)
    keys = {
        position: Key.of(registered.directory.find(one.device), one.device, one.condition)
        for position, one in fresh.items()
    }
    stamps = {position: _stamp(sender, one, keys[position], registered) for position, one in fresh.items()}
    oldest = min(stamp.at for stamp in stamps.values())
    book = episodes.load(sender.facility, keys.values(), oldest=oldest)
    placed = {}
    for position in sorted(fresh, key=lambda one: (stamps[one].turn(fresh[one].signal), one)):
        report, key, stamp = fresh[position], keys[position], stamps[position]
        placement = book.place(key, report.signal, stamp.at)
        one = _Placed(key, stamp, placement, [])
        one.remarks.extend(_remarks(f"/events/{position}", report, one, registered))
        placed[position] = one
    ids = episodes.write(sender.facility, book, now=sender.now)
    if book.moved:
        touch(sender.facility.pk)
    return placed, ids


def _stamp(sender: _Sender, report: Report, key: Key, registered: Registered) -> Stamp:
    return stamped(
        report.occurred_at,
        received_at=sender.now,
        delay=plausible_delay(),
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
            "doubtful-clock",
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
    if placed.placement.remark:
        yield Fault(place, placed.placement.remark, "order")


def _row(sender: _Sender, report: Report, placed: _Placed, ids: Mapping[Episode, int]) -> Event:
    episode = placed.placement.episode
    event = _event(sender, report)
    event.clock_doubtful = placed.stamp.doubt is not None
    event.component_id = placed.key.component
    event.alarm_id = ids[episode] if episode is not None else None
    event.remark = "; ".join(remark.detail for remark in placed.remarks)[:500] or None
    return event


def _event(sender: _Sender, report: Report) -> Event:
    return Event(
        facility=sender.facility,
        source=report.source,
        source_event_id=report.id,
        received_from=sender.organisation,
        entered_by=sender.entered_by,
        device=report.device,
        condition=report.condition,
        signal=report.signal,
        occurred_at=report.occurred_at,
        received_at=sender.now,
        payload=dict(report.payload),
        content_sha256=report.sha256(),
    )


def _keep_conflicts(sender: _Sender, batch: _Batch, firsts: Mapping[tuple[str, str], Event]) -> None:
    """File each contradicting message beside the first of its id; the same one again is filed once."""
    rows = []
    for report in batch.conflicts.values():
        event = _event(sender, report)
        event.conflicts_with = firsts[report.source, report.id]
        event.remark = "conflicts with an earlier message of the same id, which stands"
        rows.append(event)
    Event.objects.bulk_create(rows, ignore_conflicts=True)


def _intake(batch: _Batch, placed: Mapping[int, _Placed], ids: Mapping[Episode, int]) -> Intake:
    """The answer; an alarm that was opened and then joined or cleared is named under each."""

    def moved(effect: Effect) -> list[int]:
        found = (one.placement for one in placed.values())
        return sorted({ids[one.episode] for one in found if one.effect == effect and one.episode is not None})

    return Intake(
        accepted=len(batch.fresh),
        repeated=batch.repeated,
        opened=moved(Effect.OPENED),
        joined=moved(Effect.JOINED),
        cleared=moved(Effect.CLEARED),
        remarks=[remark for position in sorted(placed) for remark in placed[position].remarks],
        conflicts=[
            Fault(f"/events/{position}/id", f"{report.id!r} was used for another message", "reused")
            for position, report in batch.conflicts.items()
        ],
    )

"""Takes in files of events: batch by batch, and what is no event is kept beside them."""

import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import NamedTuple

from django.db import transaction

from alarms.models import UnreadableLine
from alarms.models.unreadable import MAX_KEPT
from alarms.services.intake import MAX_EVENTS, Intake, Report, receive_events
from equipment.faults import Fault
from equipment.models import Facility, Organisation

# So many problems are listed, and as many remarks; the rest is only counted.
MAX_LISTED = 1000
_PLACE = re.compile(r"/events/(\d+)(.*)", re.DOTALL)


class Line(NamedTuple):
    """A line of a file as it was sent, and what it says: its event, or what is wrong with it."""

    number: int
    raw: bytes
    report: Report | None
    faults: Sequence[Fault] = ()


class LineFault(NamedTuple):
    """Something to know about a line; `pointer` leads into the line."""

    line: int
    fault: Fault


@dataclass
class FileIntake:
    """What a file did; of problems and of remarks the first `MAX_LISTED` are listed.

    Problems: lines that are no events, and ids used for other content. Remarks: about events that were taken in.
    """

    lines: int = 0
    accepted: int = 0
    repeated: int = 0
    unreadable: int = 0
    opened: set[int] = field(default_factory=set)
    joined: set[int] = field(default_factory=set)
    cleared: set[int] = field(default_factory=set)
    problems: list[LineFault] = field(default_factory=list)
    problems_total: int = 0
    remarks: list[LineFault] = field(default_factory=list)
    remarks_total: int = 0

    def add_problems(self, found: Sequence[LineFault]) -> None:
        """Count them, and list them while there is room."""
        self.problems_total += len(found)
        self.problems += found[: MAX_LISTED - len(self.problems)]

    def add_remarks(self, found: Sequence[LineFault]) -> None:
        """The same for what was taken in."""
        self.remarks_total += len(found)
        self.remarks += found[: MAX_LISTED - len(self.remarks)]


@dataclass(frozen=True)
class _Sender:
    facility: Facility
    organisation: Organisation
    entered_by: str
    now: datetime


def receive_lines(
    *, facility: Facility, source_org: Organisation, entered_by: str, lines: Iterable[Line], now: datetime
) -> FileIntake:
    """Keep every line: what is an event goes the way of every event, the rest is kept as unreadable.

    Each `MAX_EVENTS` lines are a transaction of their own, so that a file that breaks off is on file as far as it was
    read; sent once more, it repeats harmlessly.
    """
    sender, file = _Sender(facility, source_org, entered_by, now), FileIntake()
    rest = iter(lines)
    while batch := list(islice(rest, MAX_EVENTS)):
        _receive(sender, batch, file)
    return file


@transaction.atomic
def _receive(sender: _Sender, batch: Sequence[Line], file: FileIntake) -> None:
    events = [line for line in batch if line.report is not None]
    unreadable = [line for line in batch if line.report is None]
    intake = _take_in(sender, events)
    _keep(sender, unreadable)
    file.lines += len(batch)
    file.unreadable += len(unreadable)
    found = [LineFault(line.number, fault) for line in unreadable for fault in line.faults]
    if intake is not None:
        _count(intake, file)
        found += _placed(intake.conflicts, events)
        file.add_remarks(list(_placed(intake.remarks, events)))
    file.add_problems(sorted(found, key=lambda one: one.line))


def _take_in(sender: _Sender, events: Sequence[Line]) -> Intake | None:
    reports = [line.report for line in events if line.report is not None]
    if not reports:
        return None
    return receive_events(
        facility=sender.facility,
        source_org=sender.organisation,
        entered_by=sender.entered_by,
        events=reports,
        now=sender.now,
    )


def _placed(faults: Iterable[Fault], events: Sequence[Line]) -> Iterator[LineFault]:
    """Faults of a batch, each at its line; one about the batch as a whole is none of a line's."""
    for fault in faults:
        if found := _PLACE.fullmatch(fault.pointer):
            line = events[int(found[1])]
            yield LineFault(line.number, Fault(found[2], fault.detail, fault.code))


def _keep(sender: _Sender, lines: Sequence[Line]) -> None:
    UnreadableLine.objects.bulk_create(
        (
            UnreadableLine(
                facility=sender.facility,
                received_from=sender.organisation,
                entered_by=sender.entered_by,
                received_at=sender.now,
                line=line.number,
                text=_text(line.raw),
                size=len(line.raw),
                sha256=hashlib.sha256(line.raw).hexdigest(),
                faults=[
                    {"pointer": one.pointer, "detail": one.detail, "code": one.code} for one in line.faults
                ],
            )
            for line in lines
        ),
        ignore_conflicts=True,
    )


def _text(raw: bytes) -> str:
    """What is no UTF-8 as escapes, and the character zero too, which PostgreSQL does not store."""
    return raw[:MAX_KEPT].decode("utf-8", "backslashreplace").replace("\x00", "\\x00")


def _count(intake: Intake, file: FileIntake) -> None:
    file.accepted += intake.accepted
    file.repeated += intake.repeated
    file.opened.update(intake.opened)
    file.joined.update(intake.joined)
    file.cleared.update(intake.cleared)

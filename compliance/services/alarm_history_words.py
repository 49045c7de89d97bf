"""The history of alarms in words, the same on the page and in the table. Times are the facility's own."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from alarms.conditions import STARTS_NO_CLOCK, condition_or_unlisted
from alarms.dispositions import FLAGS, MOMENTS, REFERENCES, WORDS
from alarms.history_queries import Told
from alarms.lifecycle import MEANING, State, Step
from alarms.models import Alarm, AlarmAttachment, AlarmKnowledge, AlarmStep, Disposition
from alarms.services.mail import local, place_words
from compliance.models import Obligation
from compliance.services.alarm_history import NOT_REQUIRED, AlarmHistory, Entry
from equipment.activities.catalogue import catalogue
from equipment.models import Attachment, Record

EVIDENCE = {
    "checked_at": "equipment checked for a release",
    "finding": "found",
    "repaired_at": "repaired, calibrated or replaced",
    "liquid_removed_at": "liquid removed",
    "clean_result_at": "monitoring showed no leak",
    "investigated_at": "investigated",
    "cause": "cause",
    "action": "done",
    "no_defect": "the check found no defective part",
    "record": "record",
    "second_month": "second month of inventory",
    "delivery": "delivery",
    "release": "confirmed release",
}
DONE = {
    Step.ACKNOWLEDGE: "acknowledged",
    Step.RESET: "reset",
    Step.SHELVE: "shelved",
    Step.END_SHELVING: "shelving ended",
    Step.TAKE_OUT: "taken out of service",
    Step.RETURN: "returned to service",
}


@dataclass(frozen=True)
class Item:
    """One thing on file. `gone`: it was withdrawn and no longer counts. `nothing`: it says that nothing is on file."""

    text: str
    note: str = ""
    gone: bool = False
    nothing: bool = False


@dataclass(frozen=True)
class Part:
    """What is on file under one heading."""

    name: str
    items: list[Item]


@dataclass(frozen=True)
class Worded:
    """One alarm: a heading, where it was, and what is on file."""

    number: int
    title: str
    place: str
    about: str
    parts: list[Part]


def worded(history: AlarmHistory) -> list[Worded]:
    """Every alarm of the list."""
    zone = ZoneInfo(history.facility.time_zone)
    return [_worded(entry, zone, history.cannot_judge) for entry in history.entries]


def _worded(entry: Entry, zone: ZoneInfo, cannot_judge: str | None) -> Worded:
    alarm, past = entry.past.alarm, entry.past
    known = (
        f"class: {alarm.condition_class}" if alarm.condition_class else "class unknown: not in the catalogue"
    )
    parts = {
        "Exercise": _exercise(alarm, zone),
        "Raised": [_raised(alarm, zone)],
        "Cleared": [_over(alarm, zone)],
        "Told": [_told(one, zone) for one in past.told] or [_untold(alarm)],
        "Answered": [_step(one, zone) for one in past.steps] or [_none("nobody has acknowledged it")],
        "Disposition": [_answer(one, zone) for one in past.answers] or [_none("it has no disposition")],
        "Stated besides": [_statement(one, zone) for one in past.statements],
        "Clock of the law": list(_clocks(entry, zone, cannot_judge)),
        "Photos and papers": [_attached(one, zone) for one in past.files],
        "Filed": [_record(one, zone) for one in entry.filed] or [_none("no record names this alarm")],
    }
    return Worded(
        number=alarm.pk,
        title=condition_or_unlisted(alarm.condition).title,
        place=place_words(alarm),
        about="; ".join([known, f"priority {alarm.priority}", *_merged(past.merged)]),
        parts=[Part(name, items) for name, items in parts.items() if items],
    )


def _merged(numbers: list[int]) -> list[str]:
    return [f"the same as {', '.join(f'alarm {number}' for number in numbers)}"] if numbers else []


def _none(what: str) -> Item:
    return Item(f"Nothing on file: {what}.", nothing=True)


def _raised(alarm: Alarm, zone: ZoneInfo) -> Item:
    notes = [f"reached us {local(alarm.opened_at, zone)}"]
    if alarm.occurrences > 1:
        notes.insert(0, f"{alarm.occurrences} times, last {local(alarm.last_raised_at, zone)}")
    return Item(local(alarm.raised_at, zone), "; ".join(notes))


def _exercise(alarm: Alarm, zone: ZoneInfo) -> list[Item]:
    if alarm.exercise is None:
        return []
    text = f"Raised in function check {alarm.exercise.pk}, led by {alarm.exercise.led_by}"
    if alarm.stood_on_at is None:
        return [Item(text)]
    real = f"It stood on, or could not be told from a real one: real since {local(alarm.stood_on_at, zone)}."
    return [Item(text, real, nothing=True)]


def _over(alarm: Alarm, zone: ZoneInfo) -> Item:
    state = MEANING[State(alarm.state)]
    if alarm.cleared_at is None and alarm.ended_at is not None:
        lost = f"Raised anew {local(alarm.ended_at, zone)}, as an alarm of its own: its clear was lost."
        return Item("No message says when it was over.", lost, nothing=True)
    if alarm.cleared_at is None:
        return Item("No message says that it is over.", state, nothing=True)
    return Item(local(alarm.cleared_at, zone), state)


def _told(told: Told, zone: ZoneInfo) -> Item:
    who = f"{told.name} ({told.organisation})"
    failed = f"{told.failed} refused" if told.failed else ""
    if told.first_at is None:
        return Item(f"{who}: no mail reached the mail server of this address.", failed, nothing=True)
    mails = f"{told.mails} mails, last {local(told.last_at, zone)}" if told.last_at and told.mails > 1 else ""
    return Item(
        f"{who}, first mail {local(told.first_at, zone)}", "; ".join(one for one in (mails, failed) if one)
    )


def _untold(alarm: Alarm) -> Item:
    why = f", because {alarm.untold_reason}" if alarm.untold_reason else ""
    return _none(f"no mail about it went out{why}")


def _step(step: AlarmStep, zone: ZoneInfo) -> Item:
    notes = [step.note or "no note"]
    if step.until is not None:
        notes.append(f"until {local(step.until, zone)}")
    if step.record is not None:
        notes.append(_named(step.record))
    return Item(f"{DONE[Step(step.kind)]} {local(step.at, zone)} by {step.by}", "; ".join(notes))


def _answer(answer: Disposition, zone: ZoneInfo) -> Item:
    stated = f"from {local(answer.at, zone)}, stated by {answer.recorded_by} ({answer.submitted_by.name})"
    notes = [
        *_evidence(answer, zone),
        *_shows(answer, "disposition_attachments"),
        f"on file since {local(answer.recorded_at, zone)}",
    ]
    if answer.withdrawn_at is not None:
        notes.append(_withdrawn(answer, zone))
    return Item(f"{answer.type}, {stated}", "; ".join(notes), gone=answer.withdrawn_at is not None)


def _evidence(answer: Disposition, zone: ZoneInfo) -> Iterator[str]:
    for name in (*MOMENTS, *WORDS, *FLAGS, *REFERENCES):
        value = getattr(answer, name)
        if name in FLAGS:
            if value:
                yield EVIDENCE[name]
        elif isinstance(value, datetime):
            yield f"{EVIDENCE[name]} {local(value, zone)}"
        elif isinstance(value, Record):
            yield _named(value) if name == "record" else f"{EVIDENCE[name]}: {_named(value)}"
        elif value is not None:
            said = value if isinstance(value, str) else f"number {value.pk}{_gone(value)}"
            yield f"{EVIDENCE[name]}: {said}"


def _statement(said: AlarmKnowledge, zone: ZoneInfo) -> Item:
    facts = []
    if said.party is not None and said.at is not None:
        facts.append(f"{said.party} knew {local(said.at, zone)}")
    if said.discovered_at is not None:
        facts.append(f"the operator learned of it {local(said.discovered_at, zone)}")
    if said.liquid_is_method is not None:
        facts.append(f"the liquid {_is(said.liquid_is_method)} part of the monitoring method")
    if said.no_liquid is not None:
        facts.append("no liquid was involved" if said.no_liquid else "liquid was involved")
    notes = [f"stated by {said.recorded_by} {local(said.recorded_at, zone)}"]
    if said.withdrawn_at is not None:
        notes.append(_withdrawn(said, zone))
    return Item("; ".join(facts), "; ".join(notes), gone=said.withdrawn_at is not None)


def _clocks(entry: Entry, zone: ZoneInfo, cannot_judge: str | None) -> Iterator[Item]:
    alarm = entry.past.alarm
    harmless = alarm.condition_class in {*map(str, STARTS_NO_CLOCK)}
    asked = [row for row in entry.clocks if not (harmless and row.standing == NOT_REQUIRED)]
    since = local(alarm.discovered_at or alarm.raised_at, zone)
    yield from (_clock(row, since, zone) for row in asked)
    if cannot_judge is not None:
        yield Item(f"It cannot be told which clock runs. {cannot_judge}", nothing=True)
    elif harmless and not asked:
        yield Item("None by the hour: 40 CFR 280.50 asks for no report of this class by itself.")
    elif not asked:
        yield Item("No rule that is loaded for this facility asks anything of it.")


def _clock(row: Obligation, since: str, zone: ZoneInfo) -> Item:
    due = local(row.due_at, zone) if row.due_at else f"the end of {row.due_on}" if row.due_on else None
    ran = f"from {since} until {due}" if due else ""
    late = [
        f"{one['days_late']} days late" for one in row.finding.get("late_intervals", []) if one["days_late"]
    ]
    shown = ", ".join(one.replace(":", " ") for one in row.finding.get("evidence", []))
    unknown = ", ".join(one["field"].replace("_", " ") for one in row.finding.get("missing", []))
    # What was read to decide stands in the answer; here it would only repeat the disposition, in UTC.
    reason = str(row.finding.get("reason", "")).partition(" (")[0]
    notes = [
        ran,
        *late,
        f"shown by {shown}" if shown else "",
        f"not known: {unknown}" if unknown else "",
        reason,
        row.cite,
    ]
    text = f"{row.title} ({row.party}): {row.standing}"
    return Item(text, "; ".join(one for one in notes if one), nothing=_is_wanting(row))


def _is_wanting(row: Obligation) -> bool:
    return row.standing in {"failed", "overdue", "no record", "cannot decide"}


def _record(record: Record, zone: ZoneInfo) -> Item:
    when = local(record.performed_at, zone) if record.performed_at else str(record.performed_on)
    said = [f"{name.replace('_', ' ')}: {value}" for name, value in _plain(record.measurements)]
    by = f"sent by {record.entered_by} ({record.submitted_by.name}) {local(record.recorded_at, zone)}"
    notes = [
        *said,
        *_shows(record, "record_attachments"),
        *([record.outcome] if record.outcome else []),
        *([record.note] if record.note else []),
        by,
    ]
    gone = record.withdrawn_at is not None or getattr(record, "superseded_by", None) is not None
    if record.withdrawn_at is not None:
        notes.append(_withdrawn(record, zone))
    elif gone:
        notes.append(f"corrected since by record {record.superseded_by.pk}")
    return Item(f"{_title(record)} (record {record.pk}), {when}", "; ".join(notes), gone=gone)


def _attached(file: AlarmAttachment, zone: ZoneInfo) -> Item:
    notes = [f"attached {local(file.attached_at, zone)} by {file.attached_by}"]
    if file.attachment.withdrawn_at is not None:
        notes.append(_withdrawn(file.attachment, zone))
    return Item(_file(file.attachment), "; ".join(notes), gone=file.attachment.is_withdrawn)


def _shows(fact: Any, links: str) -> list[str]:
    files = (link.attachment for link in getattr(fact, links).all())
    return [f"shows {_file(one)}{_gone(one)}" for one in files]


def _file(file: Attachment) -> str:
    return f"{file.name} (file {file.pk}, {file.media_type}, {file.size_bytes} bytes)"


def _plain(measurements: dict[str, Any]) -> Iterable[tuple[str, Any]]:
    """Numbers and words; tables stand in the record itself."""
    return ((name, value) for name, value in measurements.items() if not isinstance(value, list | dict))


def _named(record: Record) -> str:
    return f"record {record.pk}, {_title(record)}, {record.performed_on}{_gone(record)}"


def _gone(fact: Any) -> str:
    return " (withdrawn since)" if fact.withdrawn_at is not None else ""


def _title(record: Record) -> str:
    known = catalogue().get(record.activity)
    return known.title if known else record.activity


def _withdrawn(fact: Any, zone: ZoneInfo) -> str:
    return f"withdrawn {local(fact.withdrawn_at, zone)} by {fact.withdrawn_by}: {fact.withdrawn_reason}"


def _is(yes: bool) -> str:
    return "is" if yes else "is not"

"""Every row of a document as an item with dated fields: what conditions read.

A moment is parsed here, in the facility's time zone. The text "unknown" in a list of values becomes None, since both
judge alike; a stated "unknown" status stays, because it must not be taken for a status nobody stated.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, NamedTuple

import msgspec

from compliance.rules.alarm_classes import USUAL_CLASS
from compliance.rules.component_rows import Component, Row
from compliance.rules.document import moment_fields
from compliance.rules.document_references import rows_of
from compliance.rules.document_rows import Alarm, Document
from compliance.rules.moments import LocalCalendar, Moment

KIND_OF = {
    "tank_systems": "tank_system",
    "records": "record",
    "deliveries": "delivery",
    "alarms": "alarm",
    "spills": "spill",
    "releases": "release",
    "people": "person",
    "designations": "designation",
    "documents": "document",
    "findings": "finding",
    "events": "event",
    "plans": "plan",
}
BEGINNINGS = {
    "record": ("performed_at",),
    "alarm": ("discovered_at",),
    "spill": ("discovered_at",),
    "release": ("confirmed_at",),
    "event": ("at",),
    "finding": ("determined_on", "served_on"),
}
"""The moment at which a row begins to exist; components begin when they are installed or first used."""

RESIDUE = ("residue_in", "residue_pct")


class Entry(NamedTuple):
    """From `moment`, which starts at the instant `start`, a field has this value."""

    start: datetime
    moment: Moment
    value: object


@dataclass(eq=False, slots=True)
class Item:
    """One row. `above`: the place it hangs on; `subjects`: what it is about, if it says so or has a default."""

    kind: str
    ref: str
    fields: dict[str, object]
    begins: Moment | None = None
    above: "Item | None" = None
    subjects: tuple["Item", ...] = ()
    history: dict[str, list[Entry]] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<{self.kind} {self.ref}>"

    def upwards(self) -> Iterator["Item"]:
        """This item and every place above it, nearest first."""
        item: Item | None = self
        while item is not None:
            yield item
            item = item.above


def items_of(document: Document, calendar: LocalCalendar) -> dict[str, Item]:
    """Every item by its reference, in the order of the document, the facility first."""
    facility = Item("facility", document.facility.id or "facility", plain_fields(document.facility, calendar))
    items = {facility.ref: facility}
    for section, _, row in rows_of(document):
        if section != "overrides":
            item = _item(section, row, items, calendar)
            items[item.ref] = item
    for item in items.values():
        _connect(item, items, facility)
    _date_dispositions(items, calendar)
    for change in document.changes:
        _apply_change(items[change.of], calendar.read(change.on), change.fields, calendar)
    return items


def plain_fields(row: msgspec.Struct, calendar: LocalCalendar) -> dict[str, object]:
    """The stated fields with moments parsed; inner rows become dictionaries of the same kind."""
    texts = moment_fields(type(row))
    fields = {}
    for name in row.__struct_fields__:
        stated = getattr(row, name)
        if stated is None or (stated == "unknown" and name != "status"):
            continue
        fields[name] = _plain(stated, calendar, is_moment=name in texts)
    return fields


def _plain(value: Any, calendar: LocalCalendar, *, is_moment: bool) -> object:
    if isinstance(value, msgspec.Struct):
        return plain_fields(value, calendar)
    if isinstance(value, list):
        return [_plain(part, calendar, is_moment=is_moment) for part in value]
    if isinstance(value, dict):
        return {key: None if part == "unknown" else part for key, part in value.items()}
    return calendar.read(value) if is_moment and isinstance(value, str) else value


def _item(section: str, row: Row, taken: dict[str, Item], calendar: LocalCalendar) -> Item:
    kind = str(type(row).__struct_config__.tag) if isinstance(row, Component) else KIND_OF[section]
    fields = plain_fields(row, calendar)
    if isinstance(row, Alarm):
        fields.setdefault("discovered_at", fields["raised_at"])
        fields.setdefault("condition_class", USUAL_CLASS.get(row.condition))
    if kind == "release":
        fields.setdefault("identified_at", fields["confirmed_at"])
    if kind == "record":
        fields.setdefault("recorded_at", fields["performed_at"])
    ref = str(fields.get("id") or _free_label(kind, row, taken))
    return Item(kind, ref, fields, begins=_beginning(kind, fields))


def _free_label(kind: str, row: Row, taken: dict[str, Item]) -> str:
    """A stable reference for a row without an id: what it is, and when."""
    what = next(
        (str(getattr(row, name)) for name in ("activity", "condition", "type") if hasattr(row, name)), kind
    )
    times = ("performed_at", "raised_at", "started_at", "discovered_at", "confirmed_at", "at", "planned_at")
    days = ("planned_on", "issued_on", "determined_on", "served_on", "assumed_duties_on")
    when = next((str(stated) for name in (*times, *days) if (stated := getattr(row, name, None))), "undated")
    label, number = f"{what}@{when}", 1
    while label in taken:
        number += 1
        label = f"{what}@{when}#{number}"
    return label


def _beginning(kind: str, fields: dict[str, object]) -> Moment | None:
    """The first of the kind's beginnings that is stated."""
    names = BEGINNINGS.get(kind) or (
        () if kind in KIND_OF.values() else ("installed_on", "brought_into_use_on")
    )
    stated = (value for name in names if isinstance(value := fields.get(name), date))
    return next(stated, None)


def _connect(item: Item, items: dict[str, Item], facility: Item) -> None:
    """Put the item in its place: below its parent, or below what it is about."""
    if item is facility:
        return
    named = item.fields.get("subject")
    refs = named if isinstance(named, list) else [named] if named else []
    item.subjects = tuple(items[str(ref)] for ref in refs)
    if not item.subjects and item.kind in ("record", "document"):
        item.subjects = (facility,)
    parent = item.fields.get("parent") or item.fields.get("component")
    places = [subject for subject in item.subjects if subject.kind not in ("person", "record")]
    item.above = items[str(parent)] if parent else places[0] if places else facility


def _date_dispositions(items: dict[str, Item], calendar: LocalCalendar) -> None:
    """A disposition holds from its own moment: entered later, it must not excuse an earlier judgement."""
    for item in items.values():
        disposition = item.fields.pop("disposition", None)
        if isinstance(disposition, dict):
            _enter(item, "disposition", calendar, disposition["at"], disposition)


def _apply_change(item: Item, on: Moment, changed: dict[str, Any], calendar: LocalCalendar) -> None:
    """A new status without a measured residue forgets the residue: it was measured for an earlier state."""
    if "status" in changed:
        changed = dict.fromkeys(RESIDUE) | changed
    for name, value in changed.items():
        plain = _plain(value, calendar, is_moment=isinstance(value, str) and name.endswith("_at"))
        _enter(item, name, calendar, on, None if plain == "unknown" and name != "status" else plain)


def _enter(item: Item, name: str, calendar: LocalCalendar, on: Moment, value: object) -> None:
    entries = item.history.setdefault(name, [])
    entries.append(Entry(calendar.start(on), on, value))
    entries.sort(key=lambda entry: entry.start)

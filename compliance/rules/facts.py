"""The facts of one facility, indexed for judging.

Items by kind, records by activity, and what follows from the order of records and deliveries (`previous`, `run`,
`gap_days`).
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from compliance.rules.document_rows import Document
from compliance.rules.items import Item, items_of
from compliance.rules.moments import LocalCalendar, Moment
from compliance.rules.pack import Source
from compliance.rules.readings import Reading


class Facts:
    """What was known at `known_at` (None: everything that is in the document)."""

    def __init__(self, document: Document, known_at: datetime | None = None) -> None:
        self.document = document
        self.calendar = LocalCalendar(ZoneInfo(document.facility.time_zone or "UTC"))
        self.known_at = known_at
        items = items_of(document, self.calendar)
        self.items = {ref: item for ref, item in items.items() if self._is_known(item)}
        self.facility = next(iter(self.items.values()))
        self.void, self._corrections = self._sort_out_records()
        self.by_kind: dict[str, list[Item]] = defaultdict(list)
        self.by_activity: dict[str, list[Item]] = defaultdict(list)
        for item in self.items.values():
            self.by_kind[item.kind].append(item)
            if item.kind == "record":
                self.by_activity[str(item.fields["activity"])].append(item)
        self.previous: dict[Item, Item] = {}
        self.run: dict[Item, int] = {}
        self._order_records()
        self._order_deliveries()
        self.readings: dict[tuple[int, Item], tuple[Source, Reading | None]] = {}
        """What rows are worth by themselves, by the identity of a rule's source, which is kept beside it."""

    def _is_known(self, item: Item) -> bool:
        if self.known_at is None or item.kind != "record":
            return True
        return self.calendar.start(moment_of(item, "recorded_at")) <= self.known_at

    def _sort_out_records(self) -> tuple[frozenset[Item], dict[Item, Item]]:
        """Records that never count (withdrawn ones, and those that a record still standing corrects), and corrections
        by what they correct."""
        records = [item for item in self.items.values() if item.kind == "record"]
        withdrawn = {item for item in records if item.fields.get("withdrawn")}
        corrections = {
            self.items[ref]: item
            for item in records
            if item not in withdrawn and (ref := str(item.fields.get("supersedes"))) in self.items
        }
        return frozenset(withdrawn | corrections.keys()), corrections

    def as_corrected(self, item: Item) -> Item:
        """The record that stands in its place: whoever names a record means it as it was put right since."""
        seen = {item}
        while (later := self._corrections.get(item)) is not None and later not in seen:
            seen.add(later)
            item = later
        return item

    def _order_records(self) -> None:
        """`previous`: same activity, same subjects. `run`: how many in a row had the same stated outcome."""
        rows: dict[tuple[str, frozenset[Item]], list[Item]] = defaultdict(list)
        for activity, records in self.by_activity.items():
            for record in records:
                if record not in self.void:
                    rows[activity, frozenset(record.subjects)].append(record)
        for records in rows.values():
            self._chain(records, "performed_at")
            for record in records:
                before = self.previous.get(record)
                same = before is not None and before.fields.get("outcome") == record.fields.get("outcome")
                self.run[record] = self.run[before] + 1 if before is not None and same else 1

    def _order_deliveries(self) -> None:
        deliveries = self.by_kind["delivery"]
        self._chain(deliveries, "started_at")
        days = sorted({self.calendar.day(moment_of(delivery, "started_at")) for delivery in deliveries})
        self.delivery_days: list[date] = days
        ends = [self.calendar.start(day + timedelta(days=1)) for day in days]
        self.gap_turns = frozenset([self.calendar.start(day) for day in days] + ends)
        """The instants at which `delivery_gap` may change, as days pass and as deliveries happen."""

    def _chain(self, items: list[Item], field: str) -> None:
        items.sort(key=lambda item: self.calendar.start(moment_of(item, field)))
        self.previous.update((later, earlier) for earlier, later in pairwise(items))

    def gap_days(self, delivery: Item) -> int | None:
        """Days since the delivery before; None for the first."""
        before = self.previous.get(delivery)
        if before is None:
            return None
        return self.calendar.days_between(moment_of(before, "started_at"), moment_of(delivery, "started_at"))

    def delivery_gap(self, day: date, horizon: date) -> int | None:
        """Days between the deliveries on either side of a day, or the last closed gap after the last one.

        The interval ends with the day of its second delivery (40 CFR 280.36(a)(1)(i): a check made for a delivery may
        be made on that day). Deliveries after `horizon`, the judged day, have not happened. None: no closed interval.
        """
        happened = bisect_right(self.delivery_days, horizon)
        later = min(bisect_left(self.delivery_days, day), happened - 1)
        if later < 1:
            return None
        return (self.delivery_days[later] - self.delivery_days[later - 1]).days


def moment_of(item: Item, field: str) -> Moment:
    """A field that its row cannot lack."""
    value = item.fields[field]
    assert isinstance(value, date)
    return value

"""One rule and one item at one moment: the question that is put to the engine, and how its answer is written down."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from compliance.rules.facts import Facts
from compliance.rules.findings import LateInterval
from compliance.rules.items import Item
from compliance.rules.moments import LocalCalendar, Moment, Quantity, is_instant
from compliance.rules.pack import Rule, Version
from compliance.rules.view import ItemScope, Trace, View
from compliance.rules.walking import Delay


@dataclass(frozen=True)
class Case:
    """`each` is the entry of the rule's `per` list. `target` is the item that the evidence is about."""

    rule: Rule
    item: Item
    facts: Facts
    calendar: LocalCalendar
    at: datetime
    look_back: Quantity
    each: Mapping[str, object] | None = None
    trace: Trace = field(default_factory=Trace)

    def scope(self) -> ItemScope:
        """The item as of the judged moment; what is read through it becomes the finding's why."""
        return ItemScope(View(self.facts, self.calendar, self.at, self.at, self.trace), self.item, self.each)

    def scope_at(self, instant: datetime) -> ItemScope:
        """The item at another moment, seen from the judged one."""
        view = View(self.facts, self.calendar, instant, self.at, self.trace)
        return ItemScope(view, self.item, self.each, explains=False)

    def targets(self, version: Version) -> tuple[Item, ...]:
        """The items that the evidence is about."""
        return (self.item,) if version.evidence_on is None else self.scope().items(version.evidence_on)

    def has_passed(self, due: Moment) -> bool:
        """True from the first instant after the due: the first moment of the next local day, for a day."""
        return self.has_come(self.calendar.after(due))

    def is_near(self, due: Moment, notice: Quantity) -> bool:
        """True within the notice before a due."""
        return self.has_come(self.calendar.start(self.calendar.shift(due, notice, back=True)))

    def has_come(self, instant: datetime) -> bool:
        """Whether the judged moment has reached an instant; the answer turns there."""
        self.trace.turns.add(instant)
        return self.at >= instant

    def late_intervals(self, delays: Iterable[Delay]) -> list[LateInterval]:
        """The delays that ended within the look-back; notes when each drops out of it."""
        kept = []
        for delay in delays:
            drops_out = self.calendar.after(self.calendar.shift(delay.ended, self.look_back))
            if not self.has_come(drops_out):
                done = None if delay.done is None else self.local(delay.done)
                due = self.local(delay.due)
                assert due is not None
                kept.append(LateInterval(due, done, delay.days_late))
        return kept

    def local(self, moment: Moment | None) -> Moment | None:
        """A moment as people read it: instants in the facility's zone."""
        return moment.astimezone(self.calendar.zone) if moment is not None and is_instant(moment) else moment

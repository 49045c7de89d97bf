"""The facts at one moment: paths are read here, and every read leaves a trace.

The trace serves two ends. `why` is what a finding shows: each path and its value. `turns` are the instants at which
something that was read may have another value; between two turns an evaluation gives the same answer, because it reads
the same things. The line in time and `changes_at` rest on that.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from compliance.rules.conditions import Blank
from compliance.rules.expressions import Path, as_moment
from compliance.rules.facts import Facts
from compliance.rules.items import RESIDUE, Entry, Item
from compliance.rules.kinds import PLACES
from compliance.rules.moments import TICK, LocalCalendar, Moment

HOPS = frozenset({"component", "person", "regarding", "replaces", "supersedes", "alarm"})
"""Fields that hold the id of another item; a path goes on from that item."""

EVIDENCE = frozenset({"record", "second_month", "delivery", "release"})
"""What an answer to an alarm names as its evidence; a path goes on from that item as it was corrected since, and ends
in nothing where it was withdrawn, or was not done yet at that moment."""

INHERITED = ("status", *RESIDUE)
"""Taken from the nearest place above that states it; nothing else is inherited."""

DEEDS = ("cleared_at", "ended_at")
"""Fields that say when something was done: before that moment they are unknown."""


@dataclass(slots=True)
class Trace:
    """What was read: values by path, and the instants at which a value may change."""

    why: dict[str, object] = field(default_factory=dict)
    turns: set[datetime] = field(default_factory=set)


# Not frozen, though nothing changes one: a judgement makes thousands, and freezing doubles what each costs.
@dataclass(slots=True, eq=False)
class View:
    """The facts as they are at `moment`, known from the judged moment `at` (deliveries after it have not happened)."""

    facts: Facts
    calendar: LocalCalendar
    moment: datetime
    at: datetime
    trace: Trace

    @property
    def today(self) -> date:
        return self.calendar.day(self.moment)

    def status(self, item: Item) -> str | None:
        """The status, inherited; a status nobody stated is "currently in use", a stated "unknown" is None."""
        status = self._inherited(item, "status", self.moment) or "currently in use"
        return None if status == "unknown" else str(status)

    def elected(self, item: Item, group: str) -> object:
        """The stated choice of the item or of the nearest place above it; None if nothing is stated."""
        choices = (self.field(place, f"elected_{group}") for place in item.upwards())
        return next((choice for choice in choices if choice is not None), None)

    def field(self, item: Item, name: str) -> object:
        """The value of a field at this moment, derived ones included."""
        if derive := DERIVED.get(name):
            return derive(self, item)
        if name in RESIDUE:
            return self._inherited(item, name, self.moment)
        value = self._own(item, name, self.moment)
        return self.past(value) if name in DEEDS else value

    def since(self, item: Item, name: str) -> Moment | None:
        """The moment from which the present value has held without a break; None if no change row began it."""
        chain = list(item.upwards()) if name in INHERITED and item.kind in PLACES else [item]
        entries = [entry for place in chain for entry in place.history.get(name, ())]
        present = self._at(item, name, self.moment)
        for entry in sorted(entries, key=_newest_first):
            if entry.start > self.moment:
                continue
            if self._at(item, name, entry.start - TICK) != present:
                return entry.moment
        return None

    def _at(self, item: Item, name: str, moment: datetime) -> object:
        if name in INHERITED and item.kind in PLACES:
            default = "currently in use" if name == "status" else None
            return self._inherited(item, name, moment) or default
        return self._own(item, name, moment)

    def _inherited(self, item: Item, name: str, moment: datetime) -> object:
        values = (self._own(place, name, moment) for place in item.upwards() if place.kind in PLACES)
        return next((value for value in values if value is not None), None)

    def _own(self, item: Item, name: str, moment: datetime) -> object:
        value = item.fields.get(name)
        for entry in item.history.get(name, ()):
            self.trace.turns.add(entry.start)
            if entry.start <= moment:
                value = entry.value
        return value

    def past(self, value: object) -> object:
        """The value, unless it is a moment that has not come."""
        if not isinstance(value, date):
            return value
        start = self.calendar.start(value)
        self.trace.turns.add(start)
        return value if start <= self.moment else None

    def delivery_gap(self) -> object:
        """`last_delivery_gap_days`: from the deliveries, or as stated where they are not listed."""
        self.trace.turns.update(self.facts.gap_turns)
        gap = self.facts.delivery_gap(self.today, self.calendar.day(self.at))
        return (
            gap if gap is not None else self._own(self.facts.facility, "last_delivery_gap_days", self.moment)
        )


DERIVED: dict[str, Callable[[View, Item], object]] = {
    "today": lambda view, item: view.today,
    "kind": lambda view, item: item.kind,
    "id": lambda view, item: item.ref,
    "status": View.status,
    "run": lambda view, item: view.facts.run.get(item) if item.fields.get("outcome") else None,
    "gap_days": lambda view, item: view.facts.gap_days(item),
    "last_delivery_gap_days": lambda view, item: view.delivery_gap(),
}
"""Fields that are never written: they follow from the others, the calendar or the places above."""


def _newest_first(entry: Entry) -> float:
    return -entry.start.timestamp()


@dataclass(slots=True, eq=False)
class ItemScope:
    """Reads paths from one item. `each`: the entry of `per` under judgement; `done`: the last completion.

    Only a scope that `explains` puts what it reads into the finding's why.
    """

    view: View
    item: Item
    each: Mapping[str, object] | None = None
    done: Moment | None = None
    explains: bool = True

    @property
    def calendar(self) -> LocalCalendar:
        return self.view.calendar

    def read(self, path: Path) -> object:
        # A field of the item itself is by far the most common path.
        plain = len(path) == 1 and path[0] not in ("done", "each")
        value = _value(_step(self.view, self.item, path[0])) if plain else self._walk(path)[0]
        if self.explains and path[-1] not in ("today", "done"):
            self.view.trace.why["__".join(path)] = value
        return value

    def blank(self, path: Path) -> Blank:
        _, owner, rest = self._walk(path)
        return Blank(owner.ref, "__".join(rest))

    def note_today(self, bound: object) -> None:
        moment = as_moment(bound, self.calendar)
        if moment is not None:
            day = self.calendar.day(moment)
            self.view.trace.turns.update(self.calendar.start(day + timedelta(days=n)) for n in (0, 1))

    def items(self, path: Path) -> tuple[Item, ...]:
        """The items a path of hops leads to."""
        current: object = self.item
        for part in path:
            current = _follow(self.view, current, part)
        found = current if isinstance(current, tuple) else (current,)
        return tuple(item for item in found if isinstance(item, Item))

    def _walk(self, path: Path) -> tuple[object, Item, Path]:
        """The value at the end of the path, and the item and the rest of the path at which reading ended."""
        if path == ("done",):
            return self.done, self.item, path
        current: object = self.item
        owner, begun = self.item, 0
        if path[0] == "each":
            current, begun = self.each, 1
        index = begun
        while index < len(path) and current is not None:
            if isinstance(current, tuple):
                return self._agreed(current, path[index:])
            if isinstance(current, Item):
                owner, begun = current, index
            if path[index + 1 : index + 2] == ("since",) and isinstance(current, Item):
                current, index = self.view.since(current, path[index]), index + 2
            elif path[index] in EVIDENCE and path[index - 1 : index] == ("evidence",):
                current, index = self._shown(current, path[index]), index + 1
            else:
                current, index = _follow(self.view, current, path[index]), index + 1
        return _value(current), owner, path[begun:]

    def _shown(self, evidence: object, part: str) -> Item | None:
        named = evidence.get(part) if isinstance(evidence, dict) else None
        found = self.view.facts.items.get(str(named))
        shown = None if found is None else self.view.facts.as_corrected(found)
        if shown is None or shown in self.view.facts.void:
            return None
        begun = shown.begins is None or self.view.past(shown.begins) is not None
        return shown if begun else None

    def _agreed(self, items: tuple[object, ...], path: Path) -> tuple[object, Item, Path]:
        """Of several items: the value if they all have the same one, else unknown."""
        scopes = [ItemScope(self.view, item, explains=False) for item in items if isinstance(item, Item)]
        walked = [scope._walk(path) for scope in scopes]
        value, owner, rest = walked[0]
        if all(found == value for found, _, _ in walked):
            return value, owner, rest
        return next((end for end in walked if end[0] is None), (None, owner, rest))


def _follow(view: View, current: object, part: str) -> object:
    """One step of a path: a hop, a field, or a key of an inner object."""
    if isinstance(current, dict):
        value = current.get(part)
        return view.past(value) if part.endswith("_at") else value
    return _step(view, current, part) if isinstance(current, Item) else None


def _step(view: View, current: Item, part: str) -> object:
    if part in PLACES:
        return next((place for place in current.upwards() if place.kind == part), None)
    if part in HOPS:
        named = view.facts.items.get(str(current.fields.get(part)))
        return named if named is None or part == "supersedes" else view.facts.as_corrected(named)
    match part:
        case "parent":
            return current.above
        case "subject":
            return current.subjects if len(current.subjects) > 1 else next(iter(current.subjects), None)
        case "previous":
            return view.facts.previous.get(current)
        case _:
            return view.field(current, part)


def _value(found: object) -> object:
    """Items stand for their references once a path ends."""
    if isinstance(found, Item):
        return found.ref
    if isinstance(found, tuple):
        return [item.ref for item in found if isinstance(item, Item)]
    return found

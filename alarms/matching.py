"""Decides what an event belongs to: which component, and which episode it opens, joins, clears or leaves alone.

Events may arrive late, twice or out of order. Nothing is dropped: what changes no state is still placed, with a remark.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

import msgspec

from alarms.lifecycle import State, Step, after

# A raise that follows an acknowledged one after more than this, with no clear between them, begins a new episode: the
# clear was most likely lost, and joining in silence would tell nobody (common practice, no source).
LAPSES_AFTER = timedelta(hours=24)


class Signal(StrEnum):
    """What a device says about a condition."""

    RAISED = "raised"
    CLEARED = "cleared"


class Effect(StrEnum):
    """What an event did."""

    OPENED = "opened"
    JOINED = "joined"
    CLEARED = "cleared"
    NONE = "none"


class Stamp(msgspec.Struct, frozen=True):
    """The moment at which an event counts. `doubt`: why that is its receipt and not what the device's clock said."""

    at: datetime
    doubt: str | None = None

    def turn(self, signal: Signal) -> tuple[datetime, bool]:
        """Events are placed in this order. Clocks in doubt do not tell what came first: then a raise counts last."""
        return self.at, self.doubt is not None and signal == Signal.RAISED


def stamped(
    occurred_at: datetime, *, received_at: datetime, delay: timedelta, zone: ZoneInfo, first_day: date | None
) -> Stamp:
    """When an event counts: by the device's clock, unless that lies over `delay` back or before the place's first day.

    A clock that was reset would otherwise put an alarm before every rule there is, and no duty would follow from it.
    """
    if received_at - occurred_at > delay:
        return Stamp(received_at, f"more than {delay.days} days before it reached us")
    if first_day is not None and occurred_at.astimezone(zone).date() < first_day:
        return Stamp(received_at, f"before {first_day}, when its place was installed")
    return Stamp(occurred_at)


def plain(device: str) -> str:
    """A device's name with single spaces and none around it."""
    return " ".join(device.split())


class Key(msgspec.Struct, frozen=True):
    """What at most one open episode exists for. `device` is empty where a component is known."""

    component: int | None
    device: str
    condition: str

    @classmethod
    def of(cls, component: int | None, device: str, condition: str) -> "Key":
        """The key of what a device reported, once its component is known or known to be missing."""
        return cls(component, "" if component is not None else plain(device), condition)


class Episode(msgspec.Struct, eq=False, kw_only=True):
    """The working copy of one alarm; `alarm` is its id, None for a new one. Moments are aware."""

    key: Key
    state: State
    raised_at: datetime
    last_raised_at: datetime
    last_turn_at: datetime
    cleared_at: datetime | None = None
    ended_at: datetime | None = None
    occurrences: int = 1
    alarm: int | None = None
    changed: bool = False


class Placement(msgspec.Struct, frozen=True):
    """Where an event went. `remark` is for people; None when all is as expected."""

    effect: Effect
    episode: Episode | None = None
    remark: str | None = None


class Named(msgspec.Struct, frozen=True):
    """What is needed of a component to find it by name."""

    id: int
    tag: str
    label: str | None = None


class Directory:
    """Finds components by what a device calls itself: its tag, or a label that only one component has."""

    def __init__(self, components: Iterable[Named]) -> None:
        self._exact: dict[str, int] = {}
        self._loose: dict[str, set[int]] = {}
        for one in components:
            self._exact[one.tag] = one.id
            for name in (one.tag, plain(one.label or "")):
                if name:
                    self._loose.setdefault(name.casefold(), set()).add(one.id)

    def find(self, device: str) -> int | None:
        """The component's id; None when no component, or more than one, goes by that name."""
        name = plain(device)
        found = self._loose.get(name.casefold(), set())
        return self._exact.get(name) or (next(iter(found)) if len(found) == 1 else None)


class Book:
    """The episodes of one facility that a batch of events may touch; `place` events in the order of their moments."""

    def __init__(
        self,
        episodes: Iterable[Episode] = (),
        clears: Mapping[Key, list[datetime]] | None = None,
    ) -> None:
        self.opened: list[Episode] = []
        self.known = list(episodes)
        self._open = {one.key: one for one in self.known if one.state != State.NORMAL}
        self._closed: dict[Key, list[Episode]] = {}
        for one in self.known:
            if one.state == State.NORMAL:
                self._closed.setdefault(one.key, []).append(one)
        self._moments = {one: (one.raised_at, one.cleared_at) for one in self.known}
        self._clears = {key: list(moments) for key, moments in (clears or {}).items()}

    @property
    def moved(self) -> bool:
        """Whether any episode began, ended, or turned out to have begun earlier: what legal clocks hang on."""
        return bool(self.opened) or any(
            (one.raised_at, one.cleared_at) != moments for one, moments in self._moments.items()
        )

    def place(self, key: Key, signal: Signal, at: datetime) -> Placement:
        """Put one event where it belongs and move that episode's state."""
        episode = self._open.get(key)
        if past := self._past(key, signal, at, newer_than=episode):
            return self._late(past, signal, at)
        if signal == Signal.RAISED:
            return self._raise(key, episode, at)
        placement = self._clear(key, episode, at)
        self._clears.setdefault(key, []).append(at)
        return placement

    def _past(self, key: Key, signal: Signal, at: datetime, newer_than: Episode | None) -> Episode | None:
        """A closed episode during which the moment lies; the open one goes first from its own beginning on.

        A raise at the very moment of the clear is not over: it begins anew, so that somebody is told.
        """
        if newer_than is not None and at >= newer_than.raised_at:
            return None
        for one in self._closed.get(key, []):
            end = one.cleared_at
            if end is None or at < one.raised_at:
                continue
            if at < end or (at == end and signal == Signal.CLEARED):
                return one
        return None

    def _late(self, episode: Episode, signal: Signal, at: datetime) -> Placement:
        """The episode is over and answered: the event only completes its history."""
        if signal == Signal.RAISED:
            _count(episode, at)
        return Placement(Effect.JOINED, episode, "arrived after its episode had ended; nobody is told again")

    def _raise(self, key: Key, episode: Episode | None, at: datetime) -> Placement:
        if episode is not None and _lapsed(episode, at):
            episode.state = after(episode.state, Step.LAPSE)
            episode.ended_at = at
            episode.changed = True
            episode = None
            remark = "the earlier episode was never cleared; this begins a new one"
        else:
            remark = None
        if episode is None:
            return self._begin(key, at, remark)
        over = episode.cleared_at is not None and at < episode.cleared_at
        remarks = [_moved_back(episode, at)] if at < episode.raised_at else []
        _count(episode, at)
        if over:
            remarks.append("arrived late: the condition had cleared since")
        else:
            episode.state = after(episode.state, Step.RAISE)
            episode.cleared_at = None
            if self._end(episode):
                remarks.append("its clear had arrived before it")
        return Placement(Effect.JOINED, episode, "; ".join(remarks) or None)

    def _begin(self, key: Key, at: datetime, remark: str | None) -> Placement:
        episode = Episode(
            key=key,
            state=after(State.NORMAL, Step.RAISE),
            raised_at=at,
            last_raised_at=at,
            last_turn_at=at,
            changed=True,
        )
        self.opened.append(episode)
        self._open[key] = episode
        if self._end(episode):
            remark = "its clear had arrived before it"
        return Placement(Effect.OPENED, episode, remark)

    def _clear(self, key: Key, episode: Episode | None, at: datetime) -> Placement:
        if episode is None or at < episode.raised_at:
            return Placement(Effect.NONE, None, "cleared, though no raise of it is known")
        _turn(episode, at)
        if at < episode.last_raised_at:
            return Placement(Effect.JOINED, episode, "arrived late: the condition was raised again since")
        if episode.cleared_at is not None:
            # The end is the first clear after the last raise, in whatever order the two arrive.
            episode.changed = episode.changed or at < episode.cleared_at
            episode.cleared_at = min(at, episode.cleared_at)
            return Placement(Effect.JOINED, episode, "had cleared before")
        self._close(episode, at)
        return Placement(Effect.CLEARED, episode)

    def _end(self, episode: Episode) -> bool:
        """Whether a clear after the last raise is known already; the episode is then cleared by the first of them."""
        known = self._clears.get(episode.key, [])
        cleared = min((moment for moment in known if moment > episode.last_raised_at), default=None)
        if cleared is not None:
            self._close(episode, cleared)
        return cleared is not None

    def _close(self, episode: Episode, at: datetime) -> None:
        episode.state = after(episode.state, Step.CLEAR)
        episode.cleared_at = at
        episode.changed = True
        _turn(episode, at)
        if episode.state == State.NORMAL:
            episode.ended_at = at
            del self._open[episode.key]
            self._closed.setdefault(episode.key, []).append(episode)


def _lapsed(episode: Episode, at: datetime) -> bool:
    return episode.state == State.ACKNOWLEDGED and at - episode.last_raised_at > LAPSES_AFTER


def _moved_back(episode: Episode, at: datetime) -> str:
    """Whoever sees a duty overdue at once has to find out why."""
    return (
        f"moves the beginning of its alarm back from {episode.raised_at.isoformat()} to {at.isoformat()}; "
        "what the law counts from there may be overdue at once"
    )


def _turn(episode: Episode, at: datetime) -> None:
    if at > episode.last_turn_at:
        episode.last_turn_at = at
        episode.changed = True


def _count(episode: Episode, at: datetime) -> None:
    _turn(episode, at)
    episode.occurrences += 1
    episode.raised_at = min(episode.raised_at, at)
    episode.last_raised_at = max(episode.last_raised_at, at)
    episode.changed = True

"""Decides what an event belongs to: which component, and which episode it opens, joins, clears or leaves alone.

Events may arrive late, twice or out of order. Nothing is dropped: what changes no state is still placed, with a remark.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from enum import StrEnum

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
    cleared_at: datetime | None = None
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
        stray_clears: Mapping[Key, list[datetime]] | None = None,
    ) -> None:
        self.opened: list[Episode] = []
        self.known = list(episodes)
        self._open = {one.key: one for one in self.known if one.state != State.NORMAL}
        self._closed: dict[Key, list[Episode]] = {}
        for one in self.known:
            if one.state == State.NORMAL:
                self._closed.setdefault(one.key, []).append(one)
        self._moments = {one: (one.raised_at, one.cleared_at) for one in self.known}
        self._stray = {key: list(moments) for key, moments in (stray_clears or {}).items()}

    @property
    def moved(self) -> bool:
        """Whether any episode began, ended, or turned out to have begun earlier: what legal clocks hang on."""
        return bool(self.opened) or any(
            (one.raised_at, one.cleared_at) != moments for one, moments in self._moments.items()
        )

    def place(self, key: Key, signal: Signal, at: datetime) -> Placement:
        """Put one event where it belongs and move that episode's state."""
        episode = self._open.get(key)
        if past := self._past(key, at, newer_than=episode):
            return self._late(past, signal, at)
        if signal == Signal.RAISED:
            return self._raise(key, episode, at)
        return self._clear(key, episode, at)

    def _past(self, key: Key, at: datetime, newer_than: Episode | None) -> Episode | None:
        """A closed episode during which the moment lies; the open one goes first from its own beginning on."""
        if newer_than is not None and at >= newer_than.raised_at:
            return None
        for one in self._closed.get(key, []):
            if one.raised_at <= at and one.cleared_at is not None and at <= one.cleared_at:
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
            episode.changed = True
            episode = None
            remark = "the earlier episode was never cleared; this begins a new one"
        else:
            remark = None
        if episode is None:
            return self._begin(key, at, remark)
        over = episode.cleared_at is not None and at < episode.cleared_at
        _count(episode, at)
        if over:
            return Placement(Effect.JOINED, episode, "arrived late: the condition had cleared since")
        episode.state = after(episode.state, Step.RAISE)
        episode.cleared_at = None
        return Placement(Effect.JOINED, episode)

    def _begin(self, key: Key, at: datetime, remark: str | None) -> Placement:
        episode = Episode(
            key=key, state=after(State.NORMAL, Step.RAISE), raised_at=at, last_raised_at=at, changed=True
        )
        self.opened.append(episode)
        self._open[key] = episode
        cleared = min((moment for moment in self._stray.get(key, []) if moment > at), default=None)
        if cleared is not None:
            episode.state = after(episode.state, Step.CLEAR)
            episode.cleared_at = cleared
            remark = "its clear had arrived before it"
        return Placement(Effect.OPENED, episode, remark)

    def _clear(self, key: Key, episode: Episode | None, at: datetime) -> Placement:
        if episode is None or at < episode.raised_at:
            self._stray.setdefault(key, []).append(at)
            return Placement(Effect.NONE, None, "cleared, though no raise of it is known")
        if at < episode.last_raised_at:
            return Placement(Effect.JOINED, episode, "arrived late: the condition was raised again since")
        if episode.cleared_at is not None:
            return Placement(Effect.JOINED, episode, "had cleared before")
        episode.state = after(episode.state, Step.CLEAR)
        episode.cleared_at = at
        episode.changed = True
        if episode.state == State.NORMAL:
            del self._open[key]
            self._closed.setdefault(key, []).append(episode)
        return Placement(Effect.CLEARED, episode)


def _lapsed(episode: Episode, at: datetime) -> bool:
    return episode.state == State.ACKNOWLEDGED and at - episode.last_raised_at > LAPSES_AFTER


def _count(episode: Episode, at: datetime) -> None:
    episode.occurrences += 1
    episode.raised_at = min(episode.raised_at, at)
    episode.last_raised_at = max(episode.last_raised_at, at)
    episode.changed = True

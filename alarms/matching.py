"""Decides what an event is about (which component, which condition) and when it counts.

Events may arrive late, twice or out of order. Nothing is dropped: what cannot be believed is kept with a remark. What
becomes of an alarm by them: `alarms.timeline`.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

import msgspec


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


def stamped(
    occurred_at: datetime,
    *,
    received_at: datetime,
    delay: timedelta,
    ahead: timedelta,
    zone: ZoneInfo,
    first_day: date | None,
) -> Stamp:
    """When an event counts: by the device's clock, unless that lies over `delay` back or before the place's first day.

    A clock that was reset would otherwise put an alarm before every rule there is, and no duty would follow from it.
    Nor does it count if it lies more than `ahead` in the future: nothing that is told later could end it.
    """
    if occurred_at - received_at > ahead:
        return Stamp(received_at, "lies in the future")
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


class Named(msgspec.Struct, frozen=True):
    """What is needed of a component to find it by name: from its first day on, before the day of its removal."""

    id: int
    tag: str
    label: str | None = None
    installed_on: date | None = None
    removed_on: date | None = None

    def stands_on(self, day: date) -> bool:
        """Whether it is there on this local day, as far as anybody said."""
        begun = self.installed_on is None or self.installed_on <= day
        return begun and (self.removed_on is None or day < self.removed_on)


class Directory:
    """Finds components by what a device calls itself: its tag, or a label that only one component has.

    A new sensor often takes over the label of the one that it replaces. Of several that share a name those count that
    stand on the day; where none does, all.
    """

    def __init__(self, components: Iterable[Named]) -> None:
        self._exact: dict[str, int] = {}
        self._loose: dict[str, dict[int, Named]] = {}
        for one in components:
            self._exact[one.tag] = one.id
            for name in (one.tag, plain(one.label or "")):
                if name:
                    self._loose.setdefault(name.casefold(), {})[one.id] = one

    def find(self, device: str, day: date) -> int | None:
        """The component's id; None when no component, or more than one, goes by that name on this local day."""
        name = plain(device)
        if (exact := self._exact.get(name)) is not None:
            return exact
        found = self._loose.get(name.casefold(), {})
        there = [pk for pk, one in found.items() if one.stands_on(day)] or list(found)
        return there[0] if len(there) == 1 else None

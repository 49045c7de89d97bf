"""What can be amiss with an alarm as an alarm, and the limits by which that is told: `figures.toml` beside this module.

A mark says nothing about the condition itself: an alarm that chatters may still be a leak.
"""

import tomllib
from collections.abc import Mapping
from datetime import timedelta
from enum import StrEnum
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated

import msgspec

FILE = Path(__file__).with_name("figures.toml")
Count = Annotated[int, msgspec.Meta(ge=1)]
Source = Annotated[str, msgspec.Meta(min_length=1)]


class Mark(StrEnum):
    """The words of ANSI/ISA-18.2 (from memory)."""

    CHATTERING = "chattering"
    FLEETING = "fleeting"
    STALE = "stale"


MEANING: Mapping[Mark, str] = MappingProxyType(
    {
        Mark.CHATTERING: "Raised and cleared three or more times within a minute: look at the sensor or its setting.",
        Mark.FLEETING: "Raised once and over within a minute, before anybody answered.",
        Mark.STALE: "Stands for more than 24 hours, whether or not somebody has acknowledged it.",
    }
)


class LimitsError(ValueError):
    """The file of limits is wrong. The message says where."""


class Chattering(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One alarm is raised so often within so many seconds, both ends included, and clears each time: a raise while it
    stands is no further time."""

    times: Annotated[int, msgspec.Meta(ge=2)]
    within_seconds: Count
    source: Source

    @property
    def within(self) -> timedelta:
        """How far apart the first and the last of them may be."""
        return timedelta(seconds=self.within_seconds)


class Fleeting(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Raised once and cleared within so many seconds."""

    over_within_seconds: Count
    source: Source

    @property
    def over_within(self) -> timedelta:
        """How long it may have stood."""
        return timedelta(seconds=self.over_within_seconds)


class Stale(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Stands longer than so many hours."""

    stands_hours: Count
    source: Source

    @property
    def stands(self) -> timedelta:
        """How long an alarm may stand without the mark."""
        return timedelta(hours=self.stands_hours)


class Flood(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """So many raises at one facility within so many minutes; over when fewer than `ends_below` came in that time."""

    raises: Annotated[int, msgspec.Meta(ge=2)]
    within_minutes: Count
    ends_below: Count
    source: Source

    @property
    def within(self) -> timedelta:
        """The length of the sliding window."""
        return timedelta(minutes=self.within_minutes)


class BadActors(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How many of the most frequent alarms are listed."""

    listed: Count
    source: Source


class Limits(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Every limit."""

    chattering: Chattering
    fleeting: Fleeting
    stale: Stale
    flood: Flood
    bad_actors: BadActors


@cache
def limits() -> Limits:
    """The limits in force. Read once a process."""
    return load_limits(FILE)


def load_limits(path: Path) -> Limits:
    """The limits that a file states; LimitsError names file and key."""
    try:
        return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), Limits)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LimitsError(f"{path}: cannot be read as TOML: {error}") from error
    except msgspec.ValidationError as error:
        raise LimitsError(f"{path}: {error}") from error

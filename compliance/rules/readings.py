"""What one row is worth as evidence under one entry of `satisfied_by`."""

from dataclasses import dataclass
from enum import IntEnum

from compliance.rules.conditions import Blank


class Rank(IntEnum):
    """The better of two readings of one row is the higher one."""

    NOT_COUNTED = 1
    UNCLEAR = 2
    FAILED = 3
    ACCEPTED = 4


@dataclass(frozen=True, slots=True)
class Reading:
    """One row under one entry of `satisfied_by`."""

    rank: Rank
    fails: bool = False
    reason: str = ""
    missing: tuple[Blank, ...] = ()

"""Rules as the engine uses them: parsed, with every parameter in place, ready to be judged."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from compliance.rules.conditions import Condition
from compliance.rules.expressions import Path
from compliance.rules.moments import Quantity
from compliance.rules.schedule import Schedule


@dataclass(frozen=True, slots=True)
class Election:
    """One of several ways to comply; `choice` is the one this rule belongs to."""

    group: str
    choice: str
    default: bool


@dataclass(frozen=True, slots=True)
class Source:
    """One sort of evidence. `rows` is "record", "document" or "designation"; `names` its activities or types.

    An empty `names` takes every row of the sort. `level`: kinds of parents on which a record may lie as well.
    `alone`: what a row is worth here follows from what it measured, whatever it is held against and whenever.
    """

    rows: str
    names: frozenset[str]
    where: Condition | None
    accept: Condition | None
    when: Condition | None
    needs_pass: bool
    level: frozenset[str]
    alone: bool


@dataclass(frozen=True, slots=True)
class Retention:
    """How long a row is kept: the longest of the keys that are given."""

    age: Quantity | None
    since: Path | None
    until_next: bool
    count: int | None
    while_: Condition | None


@dataclass(frozen=True, slots=True)
class Version:
    """One wording of a rule. Exactly one of schedule, must and retention, or `off`.

    `effective`: the day the wording took effect; None: always. `begins`: the day from which it governs here, which is
    another one only where an agency's letter puts a wording in place for a while.
    """

    effective: date | None
    begins: date | None
    off: bool
    applies: Condition | None
    unless: Condition | None
    suspended_when: Condition | None
    election: Election | None
    schedule: Schedule | None
    must: Condition | None
    satisfied_by: tuple[Source, ...]
    evidence_on: Path | None
    per: Path | None
    notice: Quantity
    retention: Retention | None
    cite: str
    verified: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A duty: its wordings in order of their first day, and the activities that its subjects can have.

    `activities` and `outcomes` are the index for rules about records: None if a record of any may be concerned.
    `elections`: group -> the choice that counts where nothing is stated.
    """

    id: str
    title: str
    pack: str
    subject: frozenset[str]
    party: str
    task: str
    versions: tuple[Version, ...]
    activities: frozenset[str] | None
    outcomes: frozenset[str] | None
    elections: Mapping[str, str]

    def on(self, day: date) -> Version | None:
        """The wording that governs on that day; None before the first."""
        begun = [
            version for version in self.versions if version.effective is None or version.effective <= day
        ]
        return begun[-1] if begun else None

"""How a comparison of rule packs is told: sentences and a table for people, lines of JSON for programs."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import IO, Any, Protocol, cast

import msgspec
from django.core.management.base import OutputWrapper
from rich.console import Console
from rich.table import Table

from compliance.rules.comparing import NOTICED, Change, Shift, Side, counted, differing

WORDS: dict[Change, str] = {
    "appears": "appear",
    "vanishes": "vanish",
    "moves": "move",
    "delays": "have other delays",
    "reworded": "are only worded anew",
    "stays": "stay",
}
OTHER_DELAYS = "has other delays in the past"


@dataclass
class Tally:
    """Over all facilities: how many were compared, how many differ, and what happens to the obligations, by rule."""

    facilities: int = 0
    differing: int = 0
    refused: int = 0
    obligations: Counter[Change] = field(default_factory=Counter)
    by_rule: dict[str, Counter[Change]] = field(default_factory=dict)

    def count(self, shifts: list[Shift]) -> None:
        self.facilities += 1
        self.differing += any(True for _ in differing(shifts))
        self.obligations.update(counted(shifts))
        for shift in differing(shifts):
            self.by_rule.setdefault(shift.rule, Counter())[shift.change] += 1


class Report(Protocol):
    def facility(self, name: str, on: date, shifts: list[Shift]) -> None:
        """One facility has been compared."""

    def end(self, tally: Tally) -> None:
        """All have."""


@dataclass(frozen=True)
class JsonLines:
    """A line a facility, with what appears, vanishes, moves or was late otherwise; the last line counts."""

    out: OutputWrapper

    def facility(self, name: str, on: date, shifts: list[Shift]) -> None:
        told = {
            "facility": name,
            "on": on,
            "counts": counted(shifts),
            "obligations": list(differing(shifts)),
        }
        self._write(told)

    def end(self, tally: Tally) -> None:
        self._write({"summary": tally})

    def _write(self, line: dict[str, Any]) -> None:
        self.out.write(msgspec.json.encode(line).decode())


@dataclass(frozen=True)
class Sentences:
    """Each facility that differs with its obligations, then the counts by rule."""

    out: OutputWrapper

    def facility(self, name: str, on: date, shifts: list[Shift]) -> None:
        told = list(differing(shifts))
        if told:
            self.out.write(f"\n{name}")
        for shift in told:
            delays = shift.change == "delays"
            word = OTHER_DELAYS if delays else shift.change
            self.out.write(f"  {shift.rule} about {shift.subject} {word}")
            self.out.write(f"    before: {_written(shift.before, delays=delays)}")
            self.out.write(f"    after:  {_written(shift.after, delays=delays)}")

    def end(self, tally: Tally) -> None:
        if tally.by_rule:
            table = Table("rule", *(WORDS[change] for change in NOTICED), title="Obligations by rule")
            for rule, counts in sorted(tally.by_rule.items()):
                table.add_row(rule, *(str(counts[change]) for change in NOTICED))
            Console(file=cast(IO[str], self.out._out), width=100).print(table)
        told = ", ".join(f"{tally.obligations[change]} {words}" for change, words in WORDS.items())
        refused = f" {tally.refused} could not be judged." if tally.refused else ""
        self.out.write(
            f"Facilities compared: {tally.facilities}; with differences: {tally.differing}. "
            f"Obligations: {told}.{refused}"
        )


def _written(side: Side | None, *, delays: bool) -> str:
    if side is None:
        return "no rule asks for it"
    if side.standing == "not required":
        return f"{side.sentence} [{side.cite}]" if side.cite else side.sentence
    wording = f"wording of {side.version}" if side.version else "first wording"
    due = f", due {side.due.isoformat()}" if side.due else ""
    late = "".join(
        f", late by {each.days_late} days from {each.due}" for each in side.late_intervals if delays
    )
    return f"{side.standing}{due}{late} [{side.cite}; {wording}]"

"""What a change of the rules does to one facility: which obligations appear, vanish or move.

An obligation is one rule about one item (and one party, where each party has its own clock). It *appears* if only the
new packs require it, *vanishes* if only the old ones do, *moves* if both require it with another standing or due. With
the same standing and due it has other *delays* where what was late in the past differs (an inspector would see it), is
*reworded* if only the wording that it cites is another, and *stays* otherwise.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Literal

import msgspec

from compliance.rules.findings import Finding, LateInterval

Change = Literal["appears", "vanishes", "moves", "delays", "reworded", "stays"]
CHANGES: tuple[Change, ...] = ("appears", "vanishes", "moves", "delays", "reworded", "stays")
NOTICED: tuple[Change, ...] = CHANGES[:4]
NOT_REQUIRED = "not required"


class Side(msgspec.Struct, frozen=True):
    """An obligation under one set of packs; a rule that is not there has none. `version`: first day of the wording."""

    standing: str
    due: date | datetime | None
    version: date | None
    cite: str
    verified: str
    sentence: str
    late_intervals: list[LateInterval]


class Shift(msgspec.Struct, frozen=True):
    """One obligation under the old and under the new packs."""

    change: Change
    rule: str
    subject: str
    party: str
    before: Side | None
    after: Side | None


def compare_findings(before: Iterable[Finding], after: Iterable[Finding]) -> list[Shift]:
    """Every obligation that either side requires, in order of rules and items.

    Give both sides with the findings that are not required: they tell why something vanishes.
    """
    old, new = _by_obligation(before), _by_obligation(after)
    shifts = []
    for key in sorted(old.keys() | new.keys()):
        was, becomes = old.get(key), new.get(key)
        if _required(was) or _required(becomes):
            rule, subject, party, _ = key
            shifts.append(Shift(_change(was, becomes), rule, subject, party, _side(was), _side(becomes)))
    return shifts


def differing(shifts: Iterable[Shift]) -> Iterator[Shift]:
    """Those that people will notice: what appears, vanishes, moves or was late otherwise."""
    return (shift for shift in shifts if shift.change in NOTICED)


def counted(shifts: Iterable[Shift]) -> dict[Change, int]:
    """How many of each, zeros included."""
    counts = Counter(shift.change for shift in shifts)
    return {change: counts[change] for change in CHANGES}


Key = tuple[str, str, str, int]
"""Rule, subject, party, and a number where one party has several."""


def _by_obligation(findings: Iterable[Finding]) -> dict[Key, Finding]:
    found: dict[Key, Finding] = {}
    seen: Counter[tuple[str, str, str]] = Counter()
    for finding in findings:
        name = (finding.rule, finding.subject, finding.party)
        found[*name, seen[name]] = finding
        seen[name] += 1
    return found


def _required(finding: Finding | None) -> bool:
    return finding is not None and finding.standing != NOT_REQUIRED


def _change(before: Finding | None, after: Finding | None) -> Change:
    if before is None or not _required(before):
        return "appears"
    if after is None or not _required(after):
        return "vanishes"
    if (before.standing, before.due) != (after.standing, after.due):
        return "moves"
    if before.late_intervals != after.late_intervals:
        return "delays"
    same = (before.version, before.cite) == (after.version, after.cite)
    return "stays" if same else "reworded"


def _side(finding: Finding | None) -> Side | None:
    if finding is None:
        return None
    return Side(
        finding.standing,
        finding.due,
        finding.version,
        finding.cite,
        finding.verified,
        finding.sentence,
        finding.late_intervals,
    )

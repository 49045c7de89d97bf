"""Rule-subject pairs a second of the rules engine, beside a plain interpretation of the same TOML in the same run.

    uv run python -m tests.benchmarks.judging [seconds]

Judging alone on one core: the site document is read beforehand, nothing is stored. The site has 4 tanks, 32 components
and 316 records, the pack is the whole federal one. An *applicable* pair is a duty and an item that owes it: what is
not required does not count, though both sides have to find that out.

The floor judges with the engine's own parts, as one would read the TOML without preparing anything: each rule's table
is compiled anew for each item, every rule looks at every item for those it is about, no record is found by its activity
and nothing is remembered. Both have to come to the same findings.
"""

import sys
import time
from collections.abc import Callable, Iterator
from datetime import date

from compliance.rulepacks import installed_packs, recordable
from compliance.rules.compiling import compile_rule
from compliance.rules.document import read_document
from compliance.rules.document_rows import Document
from compliance.rules.facts import Facts
from compliance.rules.findings import Finding
from compliance.rules.items import Item
from compliance.rules.judging import LOOK_BACK_DAYS, applicable_packs, findings_at, judge, judged_instant
from compliance.rules.moments import Quantity, Unit
from compliance.rules.packset import PackSet, RuleEntry
from compliance.rules.pairs import Pair
from tests.benchmarks.marina import TODAY, marina

AT_LEAST = 5.0


class Scanned(dict[str, list[Item]]):
    """Looks through all items each time, where the engine has an index."""

    def __init__(self, items: list[Item], field: Callable[[Item], object]) -> None:
        super().__init__()
        self._items, self._field = items, field

    def __missing__(self, name: str) -> list[Item]:
        return [item for item in self._items if self._field(item) == name]

    def get(self, name: str, default: object = None) -> list[Item]:
        return self[name]


def floor(document: Document, packs: PackSet, *, on: date, ahead: bool) -> list[Finding]:
    """Every finding that is required, interpreted plainly; `ahead`: with the search for the next change."""
    facts = Facts(document)
    facts.by_kind = Scanned(list(facts.items.values()), lambda item: item.kind)
    facts.by_activity = Scanned(facts.by_kind["record"], lambda item: item.fields["activity"])
    moment = judged_instant(on, facts.calendar)
    findings: list[Finding] = []
    changes_at = None
    names = applicable_packs(facts, packs, moment, None)
    for pair in _plain_pairs(facts, packs, names):
        judged = pair.judged(moment)
        findings += judged.required
        if ahead:
            changes_at = pair.next_change(moment, judged, before=changes_at)
    return findings


def _plain_pairs(facts: Facts, packs: PackSet, names: tuple[str, ...]) -> Iterator[Pair]:
    for entry in sorted(packs.rules, key=lambda entry: entry.table.id):
        if entry.pack not in names or entry.table.version[0].retention is not None:
            continue
        for item in _candidates(entry, facts):
            rule = compile_rule(
                entry.table, pack=entry.pack, named=packs.named.__getitem__, elections=_elections(packs)
            )
            yield Pair(rule, item, facts, facts.calendar, Quantity(LOOK_BACK_DAYS, Unit.DAY))


def _candidates(entry: RuleEntry, facts: Facts) -> Iterator[Item]:
    subject = entry.table.subject
    kinds = [subject] if isinstance(subject, str) else sorted(subject)
    for kind in kinds:
        for item in facts.items.values():
            if item.kind == kind and item not in facts.void and not item.fields.get("withdrawn"):
                yield item


def _elections(packs: PackSet) -> dict[str, str]:
    """The default of each group of choices, looked for afresh."""
    elections = [
        version.election for entry in packs.rules for version in entry.table.version if version.election
    ]
    return {election.group: election.choice for election in elections if election.default}


def main(seconds: float) -> None:
    """Check that both agree, measure, print. Fails if the engine is less than five times as fast."""
    raw = marina()
    document, packs = read_document(raw, activities=recordable()), installed_packs()
    sizes = [
        sum(row["kind"] == "tank" for row in raw["components"]),
        len(document.components),
        len(document.records),
    ]
    if sizes != [4, 32, 316]:
        raise SystemExit(f"the site has {sizes} tanks, components and records; 4, 32 and 316 were agreed")
    applicable = len(_check(document, packs))
    looked_at = len(findings_at(document, packs, at=TODAY, include_not_required=True))
    print(
        f"4 tanks, 32 components, 316 records; {len(packs.rules)} rules; "
        f"{applicable} applicable pairs of {looked_at} by kind and activity"
    )
    slow = [
        ahead
        for ahead in (False, True)
        if _race(document, packs, applicable, seconds, ahead=ahead) < AT_LEAST
    ]
    if slow:
        raise SystemExit(f"less than {AT_LEAST:g} times as fast")


def _race(document: Document, packs: PackSet, pairs: int, seconds: float, *, ahead: bool) -> float:
    """How many times as fast the engine is, printed with both rates."""
    plain = _rate(lambda: floor(document, packs, on=TODAY, ahead=ahead), pairs, seconds)
    engine = _rate(lambda: _judged(document, packs, ahead=ahead), pairs, seconds)
    print("with changes_at" if ahead else "without changes_at")
    print(f"  plain interpretation {plain:9,.0f} pairs/s")
    print(f"  engine               {engine:9,.0f} pairs/s, {engine / plain:.1f} times as fast")
    return engine / plain


def _judged(document: Document, packs: PackSet, *, ahead: bool) -> list[Finding]:
    if ahead:
        return judge(document, packs, at=TODAY).findings
    return findings_at(document, packs, at=TODAY)


def _check(document: Document, packs: PackSet) -> list[Finding]:
    """Three ways to the same findings, in whatever order."""
    ways = [
        floor(document, packs, on=TODAY, ahead=False),
        _judged(document, packs, ahead=False),
        _judged(document, packs, ahead=True),
    ]
    first, *others = (sorted(way, key=lambda one: (one.rule, one.subject, one.party)) for way in ways)
    if any(other != first for other in others):
        raise SystemExit("the plain interpretation and the engine disagree")
    return first


def _rate(work: Callable[[], list[Finding]], pairs: int, seconds: float) -> float:
    """Pairs a second of processor time, of the fastest run: what else the machine does only slows it down."""
    best, until = float("inf"), time.perf_counter() + seconds
    while time.perf_counter() < until:
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return pairs / best


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 5.0)

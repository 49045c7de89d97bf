"""An agency's written decisions for one facility: other parameters for one rule, for one item or all, for a while.

A decision is a wording of its own between `from` and `to`, so what holds for changing law holds for it as well: it is
used for a due that lies in its time, and a delay that it no longer calls late ends on its first day.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from itertools import zip_longest

from compliance.rules.compiling import GrammarError
from compliance.rules.document_rows import CaseOverride
from compliance.rules.facts import Facts
from compliance.rules.faults import DocumentError, Fault
from compliance.rules.items import Item
from compliance.rules.pack import Rule, Version
from compliance.rules.packset import PackSet


class CaseOverrides:
    """The rules of a facility as its agency's letters leave them. Raises `DocumentError` for one that fits no rule."""

    def __init__(self, facts: Facts, packs: PackSet, names: tuple[str, ...]) -> None:
        self.packs = packs
        self.names = names
        self.decisions = list(enumerate(facts.document.overrides))
        known = {entry.table.id for entry in packs.rules}
        faults = [
            Fault(f"/overrides/{index}/rule", f"no loaded rule has the id {decision.rule!r}")
            for index, decision in self.decisions
            if decision.rule not in known
        ]
        if faults:
            raise DocumentError(faults)

    def rule_for(self, rule: Rule, item: Item) -> Rule:
        """The rule for this item, with each decision about it put in place."""
        for index, decision in self.decisions:
            if decision.rule == rule.id and _concerns(decision, item):
                rule = self._amended(rule, index, decision)
        return rule

    def _amended(self, rule: Rule, index: int, decision: CaseOverride) -> Rule:
        try:
            amended = self.packs.with_params(rule.id, self.names, decision.params)
        except GrammarError as error:
            raise DocumentError([Fault(f"/overrides/{index}/params", error.detail)]) from None
        letter = f"agency letter {decision.document}"
        wordings = {
            version.effective: replace(version, cite=f"{version.cite}; {letter}")
            for version in amended.versions
        }
        return replace(rule, versions=tuple(_in_time(rule.versions, wordings, decision)))


def _concerns(decision: CaseOverride, item: Item) -> bool:
    subjects = decision.subject
    return subjects is None or item.ref in ([subjects] if isinstance(subjects, str) else subjects)


def _in_time(
    versions: tuple[Version, ...], wordings: dict[date | None, Version], decision: CaseOverride
) -> Iterator[Version]:
    """The versions with the decided wording from `from` to `to`, and the plain one before and after."""
    first, last = decision.from_ or date.min, decision.to or date.max
    for version, following in zip_longest(versions, versions[1:]):
        begins = version.begins or date.min
        ends = following.begins if following is not None and following.begins is not None else date.max
        if last < begins or first >= ends:
            yield version
            continue
        if begins < first:
            yield version
        yield replace(wordings[version.effective], begins=version.begins if begins >= first else first)
        if last < date.max and last + timedelta(days=1) < ends:
            yield replace(version, begins=last + timedelta(days=1))

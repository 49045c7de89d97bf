"""The rows about one target, sorted as each shape of duty needs it."""

from compliance.rules.case import Case
from compliance.rules.evidence import Evidence, Sorter
from compliance.rules.items import Item
from compliance.rules.moments import Moment
from compliance.rules.pack import Version
from compliance.rules.view import ItemScope


def evidence_by_day(case: Case, target: Item) -> Evidence:
    """For recurring duties: each row is judged by the wording in force, and the facts, of the day it was done.

    A method that is given up later does not undo old tests, and is no good for new ones. Before the first wording took
    effect that one is the measure; while a duty is lifted, the wording before.
    """
    wordings = [version for version in case.rule.versions if version.satisfied_by]

    def wording(moment: Moment | None) -> Version:
        if len(wordings) == 1:
            return wordings[0]
        day = case.calendar.day(case.at if moment is None else moment)
        begun = [version for version in wordings if version.begins is None or version.begins <= day]
        return begun[-1] if begun else wordings[0]

    def scope_at(moment: Moment | None) -> ItemScope:
        return case.scope_at(case.at if moment is None else case.calendar.end(moment))

    sources = tuple(source for version in wordings for source in version.satisfied_by)
    return Sorter(target, scope_at, wording, sources, case.at).sort()


def evidence_now(case: Case, target: Item, version: Version, *, keep_future: bool = False) -> Evidence:
    """For one-offs and cover: every row under one wording and the facts of the judged moment."""
    scope = case.scope_at(case.at)
    return Sorter(
        target, lambda _: scope, lambda _: version, version.satisfied_by, case.at, keep_future
    ).sort()

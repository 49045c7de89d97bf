"""How long the law wants each row kept. An answer deletes nothing: it says what may go if somebody wants it gone.

Several keys of one rule, and several rules: the longest wins. Unknown keeps. A row that no rule names is kept.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

import msgspec

from compliance.rules.applicability import State, applicability
from compliance.rules.document_rows import Document
from compliance.rules.evidence import MOMENT_FIELDS
from compliance.rules.expressions import as_moment
from compliance.rules.facts import Facts, moment_of
from compliance.rules.items import Item
from compliance.rules.judging import applicable_packs, judged_instant
from compliance.rules.pack import Retention
from compliance.rules.packset import PackSet
from compliance.rules.pairs import subjects_of
from compliance.rules.view import ItemScope, Trace, View

KEEP, MAY_GO = "keep", "may go"


class RetentionAnswer(msgspec.Struct, frozen=True):
    """What one rule says of one row: "keep" or "may go". `keep_until`: the last day of a period that is counted."""

    rule: str
    pack: str
    subject: str
    subject_kind: str
    standing: str
    keep_until: date | None
    cite: str
    verified: str


def retention(
    document: Document, packs: PackSet, at: date | datetime, *, jurisdictions: Sequence[str] | None = None
) -> list[RetentionAnswer]:
    """One answer for each retention rule and row it applies to. Raises `DocumentError` as judging does."""
    facts = Facts(document)
    moment = judged_instant(at, facts.calendar)
    names = applicable_packs(facts, packs, moment, jurisdictions)
    answers = []
    for rule in packs.for_packs(names):
        if not any(version.retention for version in rule.versions):
            continue
        for item in subjects_of(rule, facts):
            scope = ItemScope(View(facts, facts.calendar, moment, moment, Trace()), item, explains=False)
            applies = applicability(rule, scope)
            version = applies.version
            if applies.state is State.OFF or version is None or version.retention is None:
                continue
            until = _keep_until(version.retention, scope)
            keep = applies.state is State.UNKNOWN or _keeps(version.retention, scope, until)
            standing = KEEP if keep else MAY_GO
            answers.append(
                RetentionAnswer(
                    rule.id, rule.pack, item.ref, item.kind, standing, until, version.cite, version.verified
                )
            )
    return answers


def rows_that_may_go(answers: Iterable[RetentionAnswer]) -> frozenset[str]:
    """The rows that every rule which names them lets go."""
    answers = list(answers)
    return frozenset(answer.subject for answer in answers) - {
        answer.subject for answer in answers if answer.standing == KEEP
    }


def _keeps(rule: Retention, scope: ItemScope, until: date | None) -> bool:
    aged = rule.age is not None and (until is None or scope.view.today <= until)
    newer = _newer(scope) if rule.until_next or rule.count is not None else 0
    counted = (rule.until_next and newer == 0) or (rule.count is not None and newer < rule.count)
    held = rule.while_ is not None and rule.while_.verdict(scope, scope).truth is not False
    return aged or counted or held


def _keep_until(rule: Retention, scope: ItemScope) -> date | None:
    """Last day of the period; None if there is none or nobody stated where it starts."""
    if rule.age is None:
        return None
    path = rule.since or (MOMENT_FIELDS.get(scope.item.kind, "performed_at"),)
    start = as_moment(scope.read(path), scope.calendar)
    return None if start is None else scope.calendar.day(scope.calendar.shift(start, rule.age))


def _newer(scope: ItemScope) -> int:
    """How many rows of the same activity about the same items are newer and have happened."""
    facts, item = scope.view.facts, scope.item
    if item.kind != "record":
        return 0
    return sum(
        1
        for other in facts.by_activity[str(item.fields["activity"])]
        if other not in facts.void
        and set(other.subjects) >= set(item.subjects)
        and _is_newer(other, item, scope)
    )


def _is_newer(other: Item, item: Item, scope: ItemScope) -> bool:
    theirs, ours = moment_of(other, "performed_at"), moment_of(item, "performed_at")
    return scope.calendar.compare(theirs, ours) > 0 and scope.view.past(theirs) is not None

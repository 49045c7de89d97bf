"""What judging a case came to, and how it is written down as a finding."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from compliance.rules.applicability import Applicability
from compliance.rules.case import Case
from compliance.rules.conditions import Blank
from compliance.rules.evidence import Evidence
from compliance.rules.findings import Finding, MissingFact, NotCounted, Read, sentence
from compliance.rules.items import Item
from compliance.rules.moments import Moment
from compliance.rules.pack import Version
from compliance.rules.walking import Delay


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What one way of judging a case came to. `detail` goes into the sentence, after the standing."""

    standing: str
    due: Moment | None = None
    delays: tuple[Delay, ...] = ()
    used: tuple[Item, ...] = ()
    not_counted: tuple[tuple[str, str], ...] = ()
    missing: tuple[Blank, ...] = ()
    detail: str = ""
    version: Version | None = None


def undecided(missing: Iterable[Blank], evidence: Evidence | None = None) -> Answer:
    """The facts that would decide are named, and the rows that are unclear."""
    facts = tuple(dict.fromkeys(missing))
    names = ", ".join(f'"{_in_words(blank.field)}" of {blank.subject}' for blank in facts)
    return Answer(
        standing="cannot decide",
        used=() if evidence is None else tuple(deed.item for deed in evidence.unclear),
        not_counted=() if evidence is None else tuple(evidence.not_counted),
        missing=facts,
        detail=f" until this is known: {names}" if names else "",
    )


def _in_words(field: str) -> str:
    return field.removeprefix("measurements__").replace("__", " ").replace("_", " ")


def finding_of(case: Case, applies: Applicability, answer: Answer) -> Finding:
    """Write the answer down as a finding."""
    rule, version = case.rule, answer.version or applies.version
    due = case.local(answer.due)
    late = answer.standing in LATE_STANDINGS and answer.due is not None and case.has_passed(answer.due)
    return Finding(
        rule=rule.id,
        title=rule.title,
        task=rule.task,
        version=None if version is None else version.effective,
        pack=rule.pack,
        subject=case.item.ref,
        subject_kind=case.item.kind,
        party=str(case.each["party"]) if case.each else rule.party,
        standing=answer.standing,
        due=due,
        days_late=case.calendar.days_between(answer.due, case.at) if late and answer.due else 0,
        late_intervals=case.late_intervals(answer.delays),
        evidence=[item.ref for item in answer.used],
        not_counted=[NotCounted(ref, reason) for ref, reason in answer.not_counted],
        missing=[MissingFact(*blank) for blank in dict.fromkeys(answer.missing)],
        could_change=[MissingFact(*blank) for blank in dict.fromkeys(applies.could_change)],
        why=[
            Read(path, case.local(value) if isinstance(value, date) else value)
            for path, value in case.trace.why.items()
        ],
        reason=answer.detail.removeprefix(": ") if answer.standing == "not required" else "",
        sentence=sentence(rule.title, called(case.item), answer.standing, due, answer.detail),
        cite="" if version is None else version.cite,
        verified="" if version is None else version.verified,
    )


LATE_STANDINGS = ("failed", "overdue", "no record", "suspended")
"""Standings under which a due that has passed counts its days."""


def called(item: Item) -> str:
    """What people call the item: its label or name, else its id, with its kind in plain words (once: alarm 28)."""
    name = item.fields.get("label") or item.fields.get("name") or item.ref.removeprefix(f"{item.kind}:")
    return f"{item.kind.replace('_', ' ')} {name}"

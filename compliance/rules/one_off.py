"""The standing of a duty that an event starts and one deed ends."""

from dataclasses import dataclass, replace

from compliance.rules.answers import Answer, undecided
from compliance.rules.applicability import Applicability, State
from compliance.rules.case import Case
from compliance.rules.conditions import Blank
from compliance.rules.evidence import Deed, Evidence
from compliance.rules.expressions import Expression
from compliance.rules.items import Item
from compliance.rules.moments import Moment
from compliance.rules.pack import Version
from compliance.rules.recurring import moment
from compliance.rules.recurring_duty import newest_fail
from compliance.rules.schedule import OneOff
from compliance.rules.sorting import evidence_now
from compliance.rules.view import ItemScope
from compliance.rules.walking import Delay


@dataclass(frozen=True, slots=True)
class Governing:
    """The wording that an event's due belongs to, the due (None: unknown), and the delays that later wordings ended."""

    version: Version
    schedule: OneOff
    due: Moment | None
    delays: tuple[Delay, ...] = ()


def one_off_answer(case: Case, applies: Applicability, target: Item) -> Answer:
    """Judge without and with the unclear rows; only where the two differ is the duty undecided."""
    governing = governing_wording(case, applies)
    if governing.due is None:
        return undecided(_silent(governing.schedule.due, case.scope()))
    if _predates(case, governing):
        return Answer(standing="not required", detail=": it fell due before the rule took effect")
    evidence = _since_opening(case, governing, evidence_now(case, target, governing.version))
    sure = _answer(case, applies, governing, evidence)
    if not evidence.unclear:
        return sure
    perhaps = _answer(case, applies, governing, evidence.with_unclear(case.calendar))
    return sure if sure.standing == perhaps.standing else undecided(evidence.missing, evidence)


def governing_wording(case: Case, applies: Applicability) -> Governing:
    """The first wording whose due falls before another wording takes over.

    What another wording takes over is not due before that wording's first day. A wording that begins after the due was
    missed and would not call it late (an agency's extension) ends the delay on its first day.
    """
    wordings = [version for version in case.rule.versions if isinstance(version.schedule, OneOff)]
    index = 0
    due = _due(case, wordings[0])
    while index + 1 < len(wordings) and (due is None or not _ends_before(case, due, wordings[index + 1])):
        index += 1
        due = _due(case, wordings[index])
        begins = wordings[index].begins
        if due is not None and begins is not None:
            due = case.calendar.later(due, begins)
    found = _governing(wordings[index], due)
    for later in wordings[index + 1 :]:
        found = _extended(case, found, later)
    return found


def _governing(version: Version, due: Moment | None, delays: tuple[Delay, ...] = ()) -> Governing:
    assert isinstance(version.schedule, OneOff)
    return Governing(version, version.schedule, due, delays)


def _extended(case: Case, found: Governing, later: Version) -> Governing:
    fresh = _due(case, later)
    if found.due is None or fresh is None or later.begins is None:
        return found
    if not case.has_come(case.calendar.start(later.begins)) or case.calendar.compare(fresh, later.begins) < 0:
        return found
    days = case.calendar.days_between(found.due, later.begins)
    return _governing(later, fresh, (*found.delays, Delay(found.due, None, later.begins, days)))


def _due(case: Case, version: Version) -> Moment | None:
    assert isinstance(version.schedule, OneOff)
    return moment(version.schedule.due, case.scope())


def _ends_before(case: Case, due: Moment, later: Version) -> bool:
    return later.begins is None or case.calendar.compare(due, later.begins) < 0


def _predates(case: Case, governing: Governing) -> bool:
    """No duty existed on the day it would have fallen due."""
    begins = governing.version.begins
    return (
        governing.due is not None and begins is not None and case.calendar.compare(governing.due, begins) < 0
    )


def _silent(expression: Expression, scope: ItemScope) -> tuple[Blank, ...]:
    return tuple(scope.blank(path) for path in expression.paths() if scope.read(path) is None)


def _since_opening(case: Case, governing: Governing, evidence: Evidence) -> Evidence:
    """Leave out what was done too early; where the opening is unknown, everything stays in doubt."""
    opens = governing.schedule.opens
    if opens is None:
        return evidence
    first = moment(opens, case.scope())
    if first is None:
        doubtful = [*evidence.unclear, *evidence.accepted, *evidence.failed]
        return Evidence(
            [], [], doubtful, [*evidence.missing, *_silent(opens, case.scope())], evidence.not_counted
        )

    def in_time(deeds: list[Deed]) -> list[Deed]:
        return [deed for deed in deeds if case.calendar.compare(deed.moment, first) >= 0]

    early = [deed for deed in evidence.accepted if case.calendar.compare(deed.moment, first) < 0]
    return Evidence(
        in_time(evidence.accepted),
        in_time(evidence.failed),
        in_time(evidence.unclear),
        evidence.missing,
        evidence.not_counted + [(deed.item.ref, "too early: done before it could count") for deed in early],
    )


def _answer(case: Case, applies: Applicability, governing: Governing, evidence: Evidence) -> Answer:
    due = governing.due
    assert due is not None
    answer = Answer(
        standing="overdue" if case.has_passed(due) else "due soon",
        due=due,
        delays=governing.delays,
        not_counted=tuple(evidence.not_counted),
        version=governing.version,
    )
    if failing := newest_fail(case, evidence.accepted, evidence):
        state = "suspended" if applies.state is State.SUSPENDED else "failed"
        return replace(answer, standing=state, used=(failing.item,))
    if evidence.accepted:
        return _met(case, answer, due, evidence.accepted[0])
    return replace(answer, standing="suspended") if applies.state is State.SUSPENDED else answer


def _met(case: Case, answer: Answer, due: Moment, deed: Deed) -> Answer:
    delays = answer.delays
    if case.calendar.compare(deed.moment, due) > 0:
        days = case.calendar.days_between(due, deed.moment)
        delays = (*delays, Delay(due, deed.moment, deed.moment, days))
    return replace(answer, standing="met", delays=delays, used=(deed.item,))

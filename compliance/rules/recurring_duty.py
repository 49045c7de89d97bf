"""The standing of a recurring duty from its line in time and its sorted evidence."""

from dataclasses import replace

from compliance.rules.answers import Answer, undecided
from compliance.rules.applicability import Applicability, State
from compliance.rules.case import Case
from compliance.rules.evidence import Deed, Evidence
from compliance.rules.items import Item
from compliance.rules.recurring import Progress, silent_facts
from compliance.rules.sorting import evidence_by_day
from compliance.rules.timeline import timeline
from compliance.rules.walking import Walk, Walked


def recurring_answer(case: Case, applies: Applicability, target: Item) -> Answer:
    """Judge without and with the unclear rows; only where the two differ is the duty undecided.

    A suspended duty is suspended either way: then only the date that waits is in doubt, and the earlier one is shown.
    """
    line = timeline(case.rule, case.scope_at)
    walk = Walk(case.rule, line, case.scope(), case.at)
    evidence = evidence_by_day(case, target)
    sure = _answer(case, applies, walk, evidence)
    if not evidence.unclear:
        return sure
    perhaps = _answer(case, applies, walk, evidence.with_unclear(case.calendar))
    same = (sure.standing, sure.due) == (perhaps.standing, perhaps.due)
    if same or sure.standing == perhaps.standing == "suspended":
        return sure
    return undecided(evidence.missing, evidence)


def _answer(case: Case, applies: Applicability, walk: Walk, evidence: Evidence) -> Answer:
    walked = walk.along([deed.moment for deed in evidence.accepted])
    unanswering = [deed for deed in evidence.accepted if deed.moment in walked.unanswering]
    too_early = [(deed.item.ref, "too early: it answers no date") for deed in unanswering]
    completions = [deed for deed in evidence.accepted if deed not in unanswering]
    newest = completions[-1:]
    answer = Answer(
        standing="met",
        due=walked.due.moment,
        delays=walked.delays,
        used=tuple(deed.item for deed in newest),
        not_counted=(*evidence.not_counted, *too_early),
    )
    if applies.state is State.SUSPENDED:
        return replace(answer, standing="suspended", due=walked.due.moment or walked.due.asked)
    if failing := newest_fail(case, newest, evidence):
        return replace(answer, standing="failed", used=(*answer.used, failing.item))
    return _by_due(case, answer, walked)


def newest_fail(case: Case, accepted: list[Deed], evidence: Evidence) -> Deed | None:
    """The newest fail, unless something accepted is newer; at the same moment the fail stands."""
    if not evidence.failed:
        return None
    failing = evidence.failed[-1]
    if accepted and case.calendar.compare(accepted[-1].moment, failing.moment) > 0:
        return None
    return failing


def _by_due(case: Case, answer: Answer, walked: Walked) -> Answer:
    due, version = walked.due, walked.due.version
    ever_done = bool(answer.used)
    if due.moment is None:
        if due.asked is not None:  # the duty ends before anything falls due
            return answer
        missing = silent_facts(version, Progress() if not ever_done else Progress(stage=1), case.scope())
        if ever_done:
            return replace(
                undecided(missing), used=answer.used, delays=answer.delays, not_counted=answer.not_counted
            )
        return replace(answer, standing="no record", missing=missing)
    if case.has_passed(due.moment):
        return replace(answer, standing="overdue" if ever_done else "no record")
    near = case.is_near(due.moment, version.notice)
    return replace(answer, standing="met" if ever_done and not near else "due soon")

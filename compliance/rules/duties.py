"""The standing of one case: which of the shapes of duty it has, and the answers that all shapes share."""

from compliance.rules.answers import Answer, finding_of, undecided
from compliance.rules.applicability import DOES_NOT_APPLY, IS_EXEMPT, Applicability, State, gone
from compliance.rules.case import Case
from compliance.rules.conditions import Blank
from compliance.rules.cover import cover_answer
from compliance.rules.evidence import why_false, why_true
from compliance.rules.findings import STANDINGS, Finding
from compliance.rules.items import Item
from compliance.rules.one_off import one_off_answer
from compliance.rules.pack import Version
from compliance.rules.recurring_duty import recurring_answer
from compliance.rules.schedule import Always, OneOff


def judge_case(case: Case, applies: Applicability) -> Finding:
    """One finding for the case. Rules that only keep records have no standing and are not put here."""
    return finding_of(case, applies, _answer(case, applies))


def lacks_entries(case: Case, applies: Applicability) -> Finding:
    """The finding of a rule with `per` whose list is empty: nobody said who knew, and when."""
    assert applies.version is not None
    assert applies.version.per is not None
    return finding_of(case, applies, undecided([case.scope().blank(applies.version.per)]))


def _answer(case: Case, applies: Applicability) -> Answer:
    version = applies.version
    if applies.state is State.OFF or version is None:
        return _not_required(case, applies)
    if applies.state is State.UNKNOWN:
        return undecided(applies.missing)
    if version.must is not None:
        return _must_answer(case, applies, version)
    targets = case.targets(version)
    if not targets:
        assert version.evidence_on is not None
        return undecided([case.scope().blank(version.evidence_on)])
    answers = [_answer_about(case, applies, version, target) for target in targets]
    return min(answers, key=lambda answer: STANDINGS.index(answer.standing))


def _answer_about(case: Case, applies: Applicability, version: Version, target: Item) -> Answer:
    """The answer with the evidence about one item; where there are several, the worst is the duty's."""
    if target is not case.item and (reason := gone(case.scope_at(case.at).view, target)):
        return Answer(standing="not required", detail=f": {target.ref}: {reason}")
    match version.schedule:
        case OneOff():
            return one_off_answer(case, applies, target)
        case Always():
            return cover_answer(case, applies, version, target)
        case _:
            return recurring_answer(case, applies, target)


def _not_required(case: Case, applies: Applicability) -> Answer:
    """The reason with the facts that decide it, as far as a condition does."""
    scope, version = case.scope(), applies.version
    facts = ""
    if version is not None and applies.reason == DOES_NOT_APPLY:
        facts = why_false(version.applies, scope, scope)
    elif version is not None and applies.reason == IS_EXEMPT:
        facts = why_true(version.unless, scope, scope)
    return Answer(standing="not required", detail=f": {applies.reason}{f' ({facts})' if facts else ''}")


def _must_answer(case: Case, applies: Applicability, version: Version) -> Answer:
    if applies.state is State.SUSPENDED:
        return Answer(standing="suspended")
    assert version.must is not None
    scope = case.scope()
    truth, missing = version.must.verdict(scope, scope)
    if truth is None:
        return undecided(missing or [Blank(case.item.ref, "facts")])
    if truth:
        return Answer(standing="met")
    return Answer(standing="failed", detail=f": {why_false(version.must, scope, scope)}")

"""What holds whatever the dates are, on random documents against invented rules of every shape.

Judging later never loses a late interval; doing it today never leaves it late; doing it today never brings the next due
nearer, for rolling and monthly duties (an early filing on fixed dates does). The last is the promise of `changes_at`: a
quiet day needs no judging.
"""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from compliance.rules.document import read_document
from compliance.rules.findings import Finding
from compliance.rules.judging import Judgement, judge
from tests.compliance.rules.generated import PACKS, documents, judged_at
from tests.compliance.rules.sites import cup_test

LONG = 100 * 365


def judged(raw, at: datetime) -> Judgement:
    return judge(read_document(raw), PACKS, at=at, jurisdictions=PACKS.names, look_back_days=LONG)


def same(one: Judgement, other: Judgement) -> bool:
    pairs = zip(one.findings, other.findings, strict=False)
    return len(one.findings) == len(other.findings) and all(left.same_as(right) for left, right in pairs)


def about(judgement: Judgement, rule: str) -> Finding | None:
    return next((found for found in judgement.findings if found.rule == rule), None)


@settings(deadline=None, max_examples=60)
@given(documents, judged_at, st.integers(0, 999))
def test_nothing_changes_before_changes_at(raw, at, thousandths):
    now = judged(raw, at)
    until = now.changes_at or at + timedelta(days=4000)

    later = judged(raw, at + (until - at) * thousandths / 1000)

    assert same(now, later)


@settings(deadline=None, max_examples=60)
@given(documents, judged_at)
def test_nothing_changes_in_the_last_instant_before_and_something_does_at_changes_at(raw, at):
    now = judged(raw, at)
    if now.changes_at is None:
        return

    before, then = judged(raw, now.changes_at - timedelta.resolution), judged(raw, now.changes_at)

    assert same(now, before)
    assert not same(now, then)


@settings(deadline=None, max_examples=60)
@given(documents, judged_at, st.integers(1, 900))
def test_judging_later_never_loses_a_late_interval(raw, at, days):
    raw["changes"] = []  # a change row may say later that the duty had been off
    earlier, later = judged(raw, at), judged(raw, at + timedelta(days=days))

    for rule in ("rolling", "monthly", "grid"):
        before, after = about(earlier, rule), about(later, rule)
        if before and after and "cannot decide" not in (before.standing, after.standing):
            assert {late.due for late in before.late_intervals} <= {late.due for late in after.late_intervals}


@settings(deadline=None, max_examples=60)
@given(documents, judged_at, st.sampled_from(["rolling", "monthly"]))
def test_doing_it_today_never_leaves_it_late_nor_brings_the_due_nearer(raw, at, rule):
    before = about(judged(raw, at), rule)
    done = cup_test(at.astimezone(UTC).isoformat(), measurements={"method": "liquid"})
    after = about(judged(raw | {"records": [*raw["records"], done]}, at), rule)

    # a fail of the same day stands beside a pass, and what is undecided stays so
    if (
        before
        and after
        and before.standing != "failed"
        and "cannot decide" not in (before.standing, after.standing)
    ):
        assert after.standing not in ("overdue", "no record", "failed")
        if before.due and after.due and before.evidence:  # a first completion may come before its first due
            assert after.due >= before.due

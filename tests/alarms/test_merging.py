"""Alarms that turned out to be one: what was said of either counts for it. Our own promise; that the clock of 40 CFR
280.50 runs once and from the first raise follows from its being one suspicion."""

import pytest

from alarms.dispositions import DispositionType
from alarms.lifecycle import Step
from alarms.queries import alarms_of, dispositions_at, dispositions_of, heard_from, knowledge_of, notices_of
from alarms.services.answer_pages import open_link
from alarms.services.answering import acknowledge
from alarms.services.dispositions import dispose
from alarms.services.escalation import escalate_due
from alarms.services.knowledge import state_knowledge
from alarms.services.links import link_to_answer
from compliance.gather_alarms import alarms_known
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW

MERGED = NOW + minutes(30)


@pytest.fixture
def both(site, contractor):
    """Two alarms of one sump, an answer to the second; then the raise between them arrives."""
    first = raised(site)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    acknowledge(alarm=first, by="Ann", note=None, now=NOW + minutes(5))
    raise_ = report(occurred_at=NOW + minutes(9))
    intake = deliver(site, raise_, now=NOW + minutes(9), by=contractor)
    second = type(first).objects.get(pk=intake.opened[0])
    escalate_due(now=NOW + minutes(10), limit=10)
    at = NOW + minutes(12)
    sender = {"by": "test", "organisation": site.operator, "now": at}
    proof = {"checked_at": at, "finding": "rain", "repaired_at": at, "liquid_removed_at": at}
    dispose(alarm=second, type=DispositionType.NOT_RELEASING, at=at, evidence=proof, **sender)
    state_knowledge(alarm=second, stated={"no_liquid": True}, **sender)
    deliver(site, report(occurred_at=NOW + minutes(2)), now=MERGED)
    first.refresh_from_db()
    second.refresh_from_db()
    return first, second


def test_the_older_one_is_the_alarm(site, both):
    first, second = both

    assert second.merged_into == first
    assert [one.pk for one in alarms_of([site.pk])[site.pk]] == [first.pk]
    assert [row["id"] for row in alarms_known([site.pk])[site.pk].rows] == [f"alarm:{first.pk}"]


def test_what_was_said_of_either_counts_for_it(site, both, contractor):
    first, second = both

    assert [one.alarm for one in dispositions_of([site.pk])[first.pk]] == [second]
    assert [one.alarm for one in dispositions_at(first)] == [second]
    assert [one.no_liquid for one in knowledge_of([site.pk])[first.pk]] == [True]
    assert set(heard_from([site.pk])[first.pk]) == {site.operator_id, contractor.pk}
    assert {one.alarm for one in notices_of(first)} == {second}


def test_before_that_was_known_they_were_two(site, both):
    first, second = both
    then = MERGED - minutes(1)

    assert [one.pk for one in alarms_of([site.pk], known_at=then)[site.pk]] == [first.pk, second.pk]
    assert list(heard_from([site.pk], known_at=then)) == [first.pk, second.pk]


def test_an_answer_by_the_link_of_the_younger_answers_the_alarm(site, both):
    first, second = both
    deliver(site, report(signal="cleared", occurred_at=MERGED), now=MERGED)
    deliver(site, report(occurred_at=MERGED + minutes(1)), now=MERGED + minutes(1))
    outcome = acknowledge(alarm=second, by="Bob", note=None, now=MERGED + minutes(2))

    assert not outcome.first, "the older one had ended, so there is a third"
    assert outcome.alarm == first
    assert [one.kind for one in first.steps.all()] == [Step.ACKNOWLEDGE]


def test_the_page_behind_a_mail_about_the_younger_is_about_the_alarm(both):
    first, second = both
    link = link_to_answer(second.notices.get().pk)

    assert open_link(link.rstrip("/").rsplit("/", 1)[1], now=MERGED).alarm == first


def test_the_calls_of_the_younger_are_over(both):
    _, second = both

    assert second.next_step_at is None
    assert all(one.withdrawn_at == MERGED for one in second.notices.all())

"""Stale facilities are judged once each, whoever comes; a quiet facility costs nothing."""

from collections import Counter
from datetime import date, datetime, timedelta

import pytest
from django.db import transaction

from compliance.gather import gather, site_documents
from compliance.models import OPEN_WORDS, Obligation, Standing
from compliance.queries import oldest_stale, stale_standings
from compliance.rulepacks import installed_packs
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from compliance.services import assess
from compliance.services.assess import Tally
from compliance.services.obligations import as_json
from equipment.models import Facility
from equipment.moments import Moment
from equipment.services.facts import lock_facility, touch
from equipment.services.records import Deed, record_visit
from tests import world
from tests.world import NOW

DETECTOR_TEST = Deed(
    activity="line-leak-detector-test",
    performed=Moment(day=date(2026, 3, 2)),
    subjects=("LLD1",),
    outcome="pass",
    measurements={"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 4},
)


def drain(now: datetime = NOW) -> Tally:
    return assess.drain(clock=lambda: now)


@pytest.fixture
def site(own) -> Facility:
    world.line(own)
    return own


def test_a_new_facility_is_judged_without_being_asked_for(site):
    assert drain() == Tally(judged=1)

    assert Obligation.objects.filter(facility=site, rule="annual-alld-test", subject="LLD1").exists()


def test_a_second_drain_finds_nothing_to_do(site):
    drain()

    assert drain() == Tally()


def test_a_new_fact_makes_only_its_facility_stale(site, foreign):
    drain()

    touch(site.pk)

    assert [standing.pk for standing in stale_standings(now=NOW)] == [site.pk]


def test_a_moment_at_which_findings_change_makes_the_facility_stale(site, owner):
    record_visit(facility=site, submitted_by=owner, entered_by="test", deeds=[DETECTOR_TEST], now=NOW)
    drain()
    changes_at = Standing.objects.get(pk=site.pk).changes_at

    assert drain(changes_at - timedelta(seconds=1)) == Tally()
    assert drain(changes_at) == Tally(judged=1)


def test_other_packs_make_every_facility_stale(site, foreign):
    drain()
    Standing.objects.update(packs_digest="of an older release")

    assert drain() == Tally(judged=2)


def test_unchanged_obligations_are_not_written_again(site):
    drain()
    touch(site.pk)

    drain(NOW + timedelta(minutes=1))

    assert set(Obligation.objects.values_list("changed_at", flat=True)) == {NOW}


def test_stored_obligations_are_what_judging_the_exported_document_says(site):
    drain()
    document = site_documents([site.pk])[site.pk]

    findings = judge(read_document(document), installed_packs(), at=NOW).findings

    stored = {
        (one.rule, one.subject, one.party): one.finding for one in Obligation.objects.filter(facility=site)
    }
    assert stored == {(one.rule, one.subject, one.party): as_json(one) for one in findings}


def test_one_facility_that_cannot_be_judged_does_not_stop_the_others(site, foreign):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-nowhere"])

    assert drain() == Tally(judged=1, failed=1)

    broken = Standing.objects.get(pk=site.pk)
    assert "us-nowhere" in broken.last_error
    assert broken.retry_at == NOW + assess.RETRY_AFTER
    assert Standing.objects.get(pk=foreign.pk).judged_at == NOW


def test_one_facility_whose_facts_cannot_be_gathered_does_not_stop_the_others(site, foreign, monkeypatch):
    def gathers(facility_ids):
        if site.pk in facility_ids:
            raise ValueError("an unreadable row")
        return gather(facility_ids)

    monkeypatch.setattr(assess, "gather", gathers)

    assert drain() == Tally(judged=1, failed=1)
    assert "unreadable row" in Standing.objects.get(pk=site.pk).last_error


def test_a_failed_facility_gets_another_turn_later(site):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-nowhere"])
    drain()
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-federal"])

    assert drain(NOW + timedelta(minutes=5)) == Tally()
    assert drain(NOW + assess.RETRY_AFTER) == Tally(judged=1)
    assert Standing.objects.get(pk=site.pk).last_error == ""


def test_a_failed_facility_gets_its_turn_at_once_when_a_new_fact_arrives(site):
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-nowhere"])
    drain()
    Facility.objects.filter(pk=site.pk).update(jurisdictions=["us-federal"])
    touch(site.pk)

    assert drain(NOW + timedelta(minutes=1)) == Tally(judged=1)


def test_what_could_not_be_judged_stands_first_in_the_portfolio(site, foreign):
    drain()
    Facility.objects.filter(pk=foreign.pk).update(jurisdictions=["us-nowhere"])
    touch(foreign.pk)
    drain()

    assert list(Standing.objects.order_by("-rank").values_list("pk", flat=True)) == [foreign.pk, site.pk]


def test_a_drain_ends_with_its_time_and_says_that_more_is_left(site, foreign):
    moments = iter([NOW, NOW, NOW, NOW, NOW + timedelta(minutes=1)])

    done = assess.drain(clock=lambda: next(moments), at_most=timedelta(seconds=30), batch=1)

    assert done == Tally(judged=1)
    assert not assess.is_drained(now=NOW)


def test_a_claimed_facility_is_left_to_whoever_claimed_it_until_the_lease_ends(site):
    drain()
    touch(site.pk)
    Standing.objects.update(claimed_until=NOW + assess.LEASE)

    assert drain() == Tally()
    assert drain(NOW + assess.LEASE) == Tally(judged=1)


def test_a_fact_that_arrives_while_judging_leaves_the_facility_stale(site, monkeypatch):
    judging = assess._judge

    def judge_while_a_fact_arrives(document, *, now):
        monkeypatch.setattr(assess, "_judge", judging)
        touch(site.pk)
        return judging(document, now=now)

    monkeypatch.setattr(assess, "_judge", judge_while_a_fact_arrives)
    drain()

    standing = Standing.objects.get(pk=site.pk)
    assert standing.facts_version == Facility.objects.get(pk=site.pk).facts_version


def test_a_failure_over_old_facts_does_not_stain_the_judgement_of_newer_ones(site, monkeypatch):
    def fails_while_somebody_else_judges_the_next_facts(document, *, now):
        monkeypatch.undo()
        touch(site.pk)
        with transaction.atomic():
            assess.assess_locked(lock_facility(site.pk), now=now)
        raise ValueError("only the old facts were bad")

    monkeypatch.setattr(assess, "_judge", fails_while_somebody_else_judges_the_next_facts)
    drain()

    standing = Standing.objects.get(pk=site.pk)
    assert (standing.last_error, standing.retry_at, standing.claimed_until) == ("", None, None)
    assert standing.facts_version == Facility.objects.get(pk=site.pk).facts_version


def test_the_worst_obligation_decides_where_the_facility_stands_in_the_portfolio(site):
    drain()

    standing = Standing.objects.get(pk=site.pk)
    stored = Counter(Obligation.objects.values_list("standing", flat=True))
    assert standing.counts == dict(stored)
    assert standing.worst == next(word for word in OPEN_WORDS if stored[word])


def test_what_moves_is_told_once(site, owner):
    with transaction.atomic():
        assess.freshen_locked(site, now=NOW)
    record_visit(facility=site, submitted_by=owner, entered_by="test", deeds=[DETECTOR_TEST], now=NOW)

    with transaction.atomic():
        moves = assess.assess_locked(site, now=NOW)

    assert [(move.either.rule, move.before.standing, move.after.standing) for move in moves] == [
        ("annual-alld-test", "no record", "met")
    ]
    # 40 CFR 280.40(a)(3): once every year; read as rolling from the last completion.
    assert moves[0].after.due_on == date(2027, 3, 2)


def test_the_age_of_the_oldest_stale_facility_is_known(site):
    drain()
    assert oldest_stale(now=NOW) is None

    touch(site.pk)

    assert oldest_stale(now=NOW) == Facility.objects.get(pk=site.pk).facts_changed_at

"""Plans and events: a permanent closure is notified 30 days before (40 CFR 280.71(a)), a new owner 30 days after
(280.22(b)), cancelled cover is replaced within 60 days of the notice (280.109(b))."""

from datetime import timedelta

import pytest

from equipment.faults import Invalid
from equipment.moments import Moment
from equipment.queries import plans_of, site_events_of
from equipment.services.happenings import state_plan, state_site_event
from equipment.services.stating import NotYours, withdraw_fact
from tests import world
from tests.equipment.statements import faults_of, plan, told
from tests.world import NOW, TODAY


def event(at, type="ownership change", on=TODAY, **fields):
    return state_site_event(**told(at), happened_at=Moment(day=on), fields={"type": type, **fields})


def test_a_plan_lies_ahead_and_names_its_tanks(own):
    world.line(own)

    plan(own, subjects=("T1",))

    [kept] = plans_of([own.pk])[own.pk]
    assert kept.planned_on > TODAY
    assert [one.component.tag for one in kept.named.all()] == ["T1"]


def test_an_activity_can_be_planned(own):
    assert plan(own, "spill-bucket-test").type == "spill-bucket-test"


@pytest.mark.parametrize("type", ["permanent closures", "spill bucket test"])
def test_a_plan_that_no_rule_would_recognise_is_refused(own, type):
    with pytest.raises(Invalid) as refusal:
        plan(own, type)

    assert faults_of(refusal) == {"/type": "near-miss"}


@pytest.mark.parametrize("name", ["to_ethanol_pct", "to_biodiesel_pct"])
def test_a_blend_is_a_percentage(own, name):
    with pytest.raises(Invalid):
        state_plan(
            **told(own),
            subjects=(),
            planned_at=Moment(day=TODAY),
            fields={"type": "fuel switch", name: 100.5},
        )


def test_a_withdrawn_plan_stays_with_its_reason(own, owner):
    withdraw_fact(fact=plan(own), organisation=owner, reason="kept after all", by="test", now=NOW)

    [kept] = plans_of([own.pk])[own.pk]
    assert kept.withdrawn_reason == "kept after all"


def test_a_contractor_does_not_withdraw_what_the_owner_planned(own, contractor):
    with pytest.raises(NotYours):
        withdraw_fact(fact=plan(own), organisation=contractor, reason="no", by="test", now=NOW)

    [kept] = plans_of([own.pk])[own.pk]
    assert kept.withdrawn_at is None


def test_an_event_has_happened(own):
    event(own, "cover cancelled", notice_received_on=TODAY)

    [kept] = site_events_of([own.pk])[own.pk]
    assert (kept.type, kept.happened_on, kept.notice_received_on) == ("cover cancelled", TODAY, TODAY)


def test_an_event_of_tomorrow_is_a_plan(own):
    with pytest.raises(Invalid) as refusal:
        event(own, on=TODAY + timedelta(days=1))

    assert faults_of(refusal) == {"/happened_at": "future"}


def test_a_withdrawn_event_no_longer_counts(own, owner):
    withdraw_fact(fact=event(own), organisation=owner, reason="other marina", by="test", now=NOW)

    assert site_events_of([own.pk]) == {}

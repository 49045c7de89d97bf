"""Spills and releases: what starts the 24-hour clocks of 40 CFR 280.53 and 280.61."""

from datetime import timedelta

import pytest

from equipment.faults import Invalid
from equipment.models import Release, Spill
from equipment.moments import CLOCK_SKEW, Moment, read_moment
from equipment.queries import releases_of, spills_of
from equipment.services.happenings import Knowledge, state_release
from tests.equipment.statements import faults_of, spill, told
from tests.world import NOW, TODAY


def test_a_sheen_is_never_worked_out_from_gallons(own):
    stated = spill(own, gal_to_environment=38.0)

    assert (stated.gal_to_environment, stated.sheen) == (38.0, None)


def test_a_spill_keeps_who_knew_when_in_the_order_of_knowing(own):
    late, early = NOW - timedelta(hours=1), NOW - timedelta(hours=3)

    spill(own, known_by=[Knowledge("operator", late), Knowledge("contractor", early)])

    [kept] = spills_of([own.pk])[own.pk]
    assert [(one.party, one.at) for one in kept.known_by.all()] == [("contractor", early), ("operator", late)]


def test_nobody_knows_of_a_spill_in_the_future(own):
    with pytest.raises(Invalid) as refusal:
        spill(own, known_by=[Knowledge("operator", NOW + CLOCK_SKEW + timedelta(seconds=1))])

    assert faults_of(refusal) == {"/known_by/0/at": "future"}
    assert Spill.objects.count() == 0


def test_a_party_knows_once(own):
    twice = [Knowledge("operator", NOW), Knowledge("operator", NOW - timedelta(hours=1))]

    with pytest.raises(Invalid) as refusal:
        spill(own, known_by=twice)

    assert faults_of(refusal) == {"/known_by/1/party": "repeated"}


def test_a_spill_of_tomorrow_is_refused(own):
    with pytest.raises(Invalid) as refusal:
        spill(own, Moment(day=TODAY + timedelta(days=1)))

    assert faults_of(refusal) == {"/discovered_at": "future"}


def test_gallons_to_the_environment_are_never_negative(own):
    with pytest.raises(Invalid) as refusal:
        spill(own, gal_to_environment=-1.0)

    assert faults_of(refusal) == {"/gal_to_environment": "constraint"}


def test_a_release_counts_from_its_confirmation(own):
    state_release(
        **told(own),
        identified_at=Moment(day=TODAY - timedelta(days=2)),
        confirmed_at=read_moment("2026-03-03T10:00:00-05:00"),
        alarm=None,
        fields={"free_product": True},
    )

    [kept] = releases_of([own.pk])[own.pk]
    assert kept.confirmed_on == TODAY - timedelta(days=1)
    assert (kept.identified_at, kept.identified_on) == (None, TODAY - timedelta(days=2))


def test_a_release_is_not_confirmed_ahead(own):
    with pytest.raises(Invalid) as refusal:
        state_release(
            **told(own),
            identified_at=None,
            confirmed_at=Moment(instant=NOW + timedelta(hours=1)),
            alarm=None,
            fields={},
        )

    assert faults_of(refusal) == {"/confirmed_at": "future"}
    assert Release.objects.count() == 0

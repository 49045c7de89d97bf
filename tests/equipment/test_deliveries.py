"""Deliveries. Room and volume are known before a transfer, which is watched throughout: 40 CFR 280.30(a)."""

from datetime import timedelta

import pytest

from equipment.faults import Invalid
from equipment.models import Delivery
from equipment.moments import Moment, read_moment
from equipment.queries import deliveries_of
from tests import world
from tests.equipment.statements import delivery, faults_of
from tests.world import NOW, TODAY

TOMORROW = Moment(day=TODAY + timedelta(days=1))


@pytest.fixture(autouse=True)
def parts(own):
    return world.line(own)


def test_a_delivery_names_its_tanks_and_figures(own):
    delivery(own, subjects=("T1",), ullage_gal=6200.0, ordered_gal=4000.0, delivered_gal=3985.0)

    [kept] = deliveries_of([own.pk])[own.pk]
    assert [one.component.tag for one in kept.named.all()] == ["T1"]
    assert (kept.ullage_gal, kept.delivered_gal, kept.watched_throughout) == (6200.0, 3985.0, None)


def test_the_day_of_a_delivery_is_the_local_one(own):
    """In New York 04:30 UTC on 2 March is still the evening of the 1st: UTC-5 in winter."""
    moment = read_moment("2026-03-02T04:30:00+00:00")

    stated = delivery(own, moment)

    assert (stated.started_on.isoformat(), stated.started_at) == ("2026-03-01", moment.instant)


def test_a_delivery_expected_tomorrow_has_no_result_yet(own):
    assert delivery(own, TOMORROW, ordered_gal=4000.0).started_on == TOMORROW.day


@pytest.mark.parametrize(
    "result", [{"delivered_gal": 10.0}, {"watched_throughout": False}, {"ended_at": TOMORROW}]
)
def test_a_coming_delivery_with_a_result_is_refused(own, result):
    with pytest.raises(Invalid) as refusal:
        delivery(own, TOMORROW, **result)

    assert faults_of(refusal) == {"/started_at": "future"}


def test_fuel_is_not_delivered_into_a_sump(own):
    with pytest.raises(Invalid) as refusal:
        delivery(own, subjects=("T1", "SU1"))

    assert faults_of(refusal) == {"/subjects/1": "wrong-kind"}


def test_a_delivery_does_not_end_before_it_started(own):
    start, end = read_moment("2026-03-02T14:00:00Z"), read_moment("2026-03-02T13:59:00Z")

    with pytest.raises(Invalid) as refusal:
        delivery(own, start, ended_at=end)

    assert faults_of(refusal) == {"/ended_at": "constraint"}


@pytest.mark.parametrize("gallons", [{"ullage_gal": -0.1}, {"ordered_gal": -0.1}, {"delivered_gal": -0.1}])
def test_gallons_are_never_negative(own, gallons):
    with pytest.raises(Invalid):
        delivery(own, **gallons)

    assert Delivery.objects.count() == 0


def test_deliveries_are_read_oldest_first(own):
    later, earlier = delivery(own), delivery(own, Moment(day=NOW.date() - timedelta(days=30)))

    assert deliveries_of([own.pk])[own.pk] == [earlier, later]

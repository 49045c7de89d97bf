"""Charts on file: which one holds on which day, what replaces it, and what is refused."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from equipment import queries
from equipment.faults import Invalid
from equipment.models import TankChart
from equipment.physics.charts import Chart, Row, chart_volume, computed_chart
from equipment.physics.geometry import Shape, StickPair
from equipment.physics.heads import Heads
from equipment.physics.tank import Tank
from equipment.services.stating import withdraw_fact
from tests import world
from tests.equipment.statements import chart, faults_of
from tests.world import NOW, TODAY

NEW_YEAR = date(2026, 1, 1)


@pytest.fixture
def tank(own):
    world.component(own, "tank_system", "S1")
    return world.component(own, "tank", "T1", parent="S1", diameter_in=96.0)


def test_a_chart_without_a_day_holds_ever_since_the_tank_was_there(own, tank):
    chart(own, tank)

    found = queries.charts_of([tank.pk], on=date(1999, 12, 31))

    assert found == {tank.pk: Chart((Row(0, 0), Row(48, 5_000), Row(96, 10_000)))}


def test_a_later_chart_takes_its_place_from_its_own_day_on(own, tank):
    chart(own, tank)
    chart(own, tank, ((0, 0), (96, 10_400)), effective_on=NEW_YEAR)

    before = queries.charts_of([tank.pk], on=NEW_YEAR - timedelta(days=1))
    from_then = queries.charts_of([tank.pk], on=NEW_YEAR)

    assert before[tank.pk].capacity_gal == 10_000
    assert from_then[tank.pk].capacity_gal == 10_400


def test_a_tank_without_a_chart_on_that_day_is_left_out(own, tank):
    chart(own, tank, effective_on=NEW_YEAR)

    assert queries.charts_of([tank.pk], on=NEW_YEAR - timedelta(days=1)) == {}


def test_a_withdrawn_chart_gives_way_to_the_one_before(own, tank, owner):
    chart(own, tank)
    wrong = chart(own, tank, ((0, 0), (96, 9_000)), effective_on=NEW_YEAR)

    withdraw_fact(fact=wrong, organisation=owner, reason="Another tank's sheet.", by="test", now=NOW)

    assert queries.charts_of([tank.pk], on=TODAY)[tank.pk].capacity_gal == 10_000


def test_what_was_known_at_another_moment_is_told_as_it_was(own, tank, owner):
    earlier, later = NOW - timedelta(hours=2), NOW + timedelta(hours=2)
    withdraw_fact(fact=chart(own, tank), organisation=owner, reason="Wrong.", by="test", now=NOW)

    assert queries.charts_of([tank.pk], on=TODAY, known_at=earlier) == {}
    assert queries.charts_of([tank.pk], on=TODAY, known_at=NOW - timedelta(0)) == {}
    assert queries.charts_of([tank.pk], on=TODAY, known_at=later) == {}


def test_a_withdrawal_does_not_reach_back(own, tank, owner):
    fact = chart(own, tank)
    withdraw_fact(fact=fact, organisation=owner, reason="Wrong.", by="test", now=NOW + timedelta(days=1))

    assert tank.pk in queries.charts_of([tank.pk], on=TODAY, known_at=NOW + timedelta(hours=1))


def test_two_charts_of_one_day_are_refused(own, tank):
    chart(own, tank, effective_on=NEW_YEAR)

    with pytest.raises(Invalid) as refusal:
        chart(own, tank, effective_on=NEW_YEAR)

    assert faults_of(refusal) == {"/effective_on": "taken"}


def test_two_charts_from_the_first_day_are_refused(own, tank):
    chart(own, tank)

    with pytest.raises(Invalid) as refusal:
        chart(own, tank)

    assert faults_of(refusal) == {"/effective_on": "taken"}


def test_a_chart_of_a_coming_day_is_refused(own, tank):
    with pytest.raises(Invalid) as refusal:
        chart(own, tank, effective_on=TODAY + timedelta(days=1))

    assert faults_of(refusal) == {"/effective_on": "future"}


def test_a_row_above_the_registers_diameter_is_refused_and_nothing_kept(own, tank):
    with pytest.raises(Invalid) as refusal:
        chart(own, tank, ((0, 0), (97, 10_000)))

    assert faults_of(refusal) == {"/rows/1/depth_in": "above-maximum"}
    assert not TankChart.objects.exists()


def test_a_compartment_is_as_wide_as_its_tank(own, tank):
    part = world.component(own, "compartment", "C1", parent="T1")

    with pytest.raises(Invalid) as refusal:
        chart(own, part, ((0, 0), (97, 5_000)))

    assert faults_of(refusal) == {"/rows/1/depth_in": "above-maximum"}


def test_a_spill_bucket_has_no_chart(own, tank):
    bucket = world.component(own, "spill_bucket", "SB1", parent="T1")

    with pytest.raises(Invalid, match="belongs to a tank or compartment"):
        chart(own, bucket)


def test_a_chart_is_computed_from_the_shape_and_the_registers_diameter(own, tank):
    fact = chart(own, tank, None, source="computed", shape=Shape(length_in=324.0), step_in=0.125)

    shape = Tank(diameter_in=96, length_in=324)
    assert fact.tank == shape
    kept, exact = TankChart.objects.get().chart.rows, computed_chart(shape, 0.125).rows
    assert [row.depth_in for row in kept] == [row.depth_in for row in exact]
    assert [row.gal for row in kept] == pytest.approx([row.gal for row in exact], abs=0.0005)
    assert all(row.gal == round(row.gal, 3) for row in kept)


def test_a_tilt_is_computed_from_two_stick_readings(own, tank):
    """Formula of the trade: slope = difference of two readings / distance between the openings; common practice."""
    readings = StickPair(low_end_in=40.0, high_end_in=38.0, apart_in=240.0)
    shape = Shape(length_in=324.0, stick_readings=readings, gauge_from_low_end_in=36.0)

    fact = chart(own, tank, None, source="computed", shape=shape)

    assert fact.tank is not None
    assert fact.tank.slope == pytest.approx(1 / 120)
    level = computed_chart(Tank(diameter_in=96, length_in=324))
    # At 1 in per 10 ft and a gauge 36 in from the low end the level chart is some 90 to 141 gal off.
    assert 90 <= round(chart_volume(level, 48) - chart_volume(fact.chart, 48)) <= 141


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (Shape(), {"/geometry/length_in": "missing"}),
        (Shape(length_in=0.0), {"/geometry/length_in": "below-minimum"}),
        (Shape(length_in=8_000.0), {"/geometry/length_in": "above-maximum"}),
        (Shape(length_in=300.0, diameter_in=-1.0), {"/geometry/diameter_in": "below-minimum"}),
        (Shape(length_in=300.0, heads=Heads(depth_in=3.0)), {"/geometry/heads/depth_in": "unexpected"}),
        (Shape(length_in=300.0, heads=Heads(shape="conical")), {"/geometry/heads/depth_in": "missing"}),
        (
            Shape(length_in=300.0, heads=Heads(shape="spherical", depth_in=49.0)),
            {"/geometry/heads/depth_in": "above-maximum"},
        ),
        (
            Shape(length_in=300.0, heads=Heads(shape="torispherical", dish_ratio=0.4)),
            {"/geometry/heads/dish_ratio": "out-of-range"},
        ),
        (
            Shape(length_in=300.0, heads=Heads(shape="torispherical", knuckle_ratio=0.5)),
            {"/geometry/heads/knuckle_ratio": "out-of-range"},
        ),
        (Shape(length_in=300.0, slope=0.06), {"/geometry/slope": "out-of-range"}),
        (
            Shape(length_in=300.0, gauge_from_low_end_in=301.0),
            {"/geometry/gauge_from_low_end_in": "out-of-range"},
        ),
        (
            Shape(
                length_in=300.0, stick_readings=StickPair(low_end_in=38.0, high_end_in=40.0, apart_in=240.0)
            ),
            {"/geometry/stick_readings/low_end_in": "order"},
        ),
        (
            Shape(length_in=300.0, stick_readings=StickPair(low_end_in=40.0, high_end_in=38.0, apart_in=0.0)),
            {"/geometry/stick_readings/apart_in": "below-minimum"},
        ),
        (
            Shape(
                length_in=300.0, stick_readings=StickPair(low_end_in=40.0, high_end_in=0.0, apart_in=240.0)
            ),
            {"/geometry/stick_readings/high_end_in": "out-of-range"},
        ),
    ],
)
def test_a_shape_that_no_tank_has_is_refused_at_its_place(own, tank, shape, expected):
    with pytest.raises(Invalid) as refusal:
        chart(own, tank, None, source="computed", shape=shape)

    assert faults_of(refusal) == expected
    assert not TankChart.objects.exists()


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"rows": None, "source": "computed"}, {"/geometry": "missing"}),
        ({"source": "computed", "shape": Shape(length_in=300.0)}, {"/rows": "unexpected"}),
        (
            {"rows": None, "source": "computed", "shape": Shape(length_in=300.0), "step_in": 0.1},
            {"/step_in": "choice"},
        ),
        ({"rows": None}, {"/rows": "missing"}),
        ({"step_in": 1.0}, {"/step_in": "unexpected"}),
    ],
)
def test_rows_are_supplied_or_computed_never_both(own, tank, fields, expected):
    with pytest.raises(Invalid) as refusal:
        chart(own, tank, **fields)

    assert faults_of(refusal) == expected


def test_a_chart_about_a_tank_of_another_facility_is_refused_by_the_database(own, foreign, tank):
    fact = chart(own, tank)

    with pytest.raises(IntegrityError), transaction.atomic():
        TankChart.objects.filter(pk=fact.pk).update(facility=foreign)


def test_a_chart_raises_the_version_of_the_facility(own, tank):
    own.refresh_from_db()
    before = own.facts_version

    chart(own, tank)

    own.refresh_from_db()
    assert own.facts_version == before + 1

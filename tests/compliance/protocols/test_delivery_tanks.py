"""Readings before a delivery: which limit applies, what cannot have been read, which buckets were looked at."""

import pytest

from compliance.protocols import Setting
from compliance.protocols.delivery_buckets import Bucket, Look, found, lacking
from compliance.protocols.delivery_tanks import (
    Device,
    Reading,
    Vessel,
    growth_of,
    holding_of,
    limit_of,
    reading_faults,
)
from equipment.physics.charts import Chart, Row
from tests.compliance.protocols.worked import FEDERAL

CHART = Chart((Row(0, 0), Row(48, 5_000), Row(96, 10_000)))
VESSEL = Vessel(chart=CHART, plate_gal=10_000, devices=(), gravity_only=False)
PLATE = Vessel(chart=None, plate_gal=10_000, devices=(), gravity_only=False)
LOOKED = Look(tag="SB1", undamaged=True, liquid_removed=True, fill_pipe_clear=True, cap_secure=True)


def device(type: str | None, tag: str = "OV1", **fields: float) -> Device:
    return Device(tag=tag, type=type, **fields)


@pytest.mark.parametrize(
    ("devices", "percent", "sure"),
    [
        ([device("automatic shutoff")], 95, True),
        ([device("high-level alarm")], 90, True),
        ([device("vent flow restrictor")], 90, True),
        ([device("automatic shutoff"), device("high-level alarm", "OV2")], 90, True),
        ([device("automatic shutoff", set_level_pct=92)], 92, True),
        ([device("automatic shutoff", set_level_pct=97)], 95, True),
        ([device("other")], 90, False),
        ([device(None)], 90, False),
        ([], 90, False),
    ],
)
def test_the_limit_is_that_of_the_strictest_device(devices, percent, sure):
    """40 CFR 280.20(c)(1)(ii)(A) shutoff at 95 percent, (B) alarm or restrictor at 90; unknown: the stricter."""
    limit = limit_of(devices, FEDERAL)

    assert (limit.percent, limit.sure) == (percent, sure)
    assert limit.because


@pytest.mark.parametrize(
    ("reading", "vessel", "expected"),
    [
        ({"level_in": 96.1}, VESSEL, {"/level_in": "above-maximum"}),
        ({"level_in": -1.0}, VESSEL, {"/level_in": "below-minimum"}),
        ({"level_in": 40.0, "water_in": 41.0}, VESSEL, {"/water_in": "order"}),
        ({"level_in": 40.0, "water_in": 97.0}, VESSEL, {"/water_in": "order"}),
        ({"level_in": 40.0, "water_gal": 3.0}, VESSEL, {"/water_gal": "unexpected"}),
        ({"level_in": 40.0, "product_gal": 3.0}, VESSEL, {"/level_in": "missing"}),
        ({}, VESSEL, {"/level_in": "missing"}),
        ({"product_gal": 9_999.0, "water_gal": 2.0}, VESSEL, {"/product_gal": "above-maximum"}),
        ({"product_gal": 9_999.0, "water_gal": 2.0, "water_in": 1.0}, VESSEL, {"/water_gal": "unexpected"}),
        ({"level_in": 40.0, "product_degf": 900.0}, VESSEL, {"/product_degf": "above-maximum"}),
        ({"level_in": 40.0}, PLATE, {"/level_in": "no-chart"}),
        (
            {"product_gal": 1.0},
            Vessel(chart=None, plate_gal=None, devices=(), gravity_only=None),
            {"/tag": "no-capacity"},
        ),
    ],
)
def test_what_cannot_have_been_read_is_named(reading, vessel, expected):
    faults = {fault.pointer: fault.code for fault in reading_faults(Reading(tag="T1", **reading), vessel, "")}

    assert expected.items() <= faults.items()


@pytest.mark.parametrize(
    "reading", [{"level_in": 96.0}, {"level_in": 0.0, "water_in": 0.0}, {"product_gal": 10_000.0}]
)
def test_full_and_empty_tanks_can_be_read(reading):
    assert list(reading_faults(Reading(tag="T1", **reading), VESSEL, "")) == []


def test_volumes_of_level_and_water_are_subtracted_never_inches():
    """US Army QM5097, p. 51. On a straight chart 45 in of liquid over 3 in of water hold 4,687.5 less 312.5 gal."""
    limit = limit_of([device("automatic shutoff")], FEDERAL)

    held = holding_of(Reading(tag="T1", level_in=45.0, water_in=3.0), VESSEL, limit)

    assert (held.product_gal, held.water_gal, held.capacity_gal, held.limit_pct) == (4_375, 312.5, 10_000, 95)


def test_growth_is_advice_from_the_warmest_reading():
    """Gasoline of 60 API from 40 to 60 °F swells by about 1.4 percent (0.00069 a degree; ASTM D1250 table 6B)."""
    readings = [Reading(tag="T1", product_degf=50.0), Reading(tag="T2", product_degf=60.0)]

    assert growth_of(5_000, 40.0, 60.0, readings) == pytest.approx(5_000 * 20 * 0.00069, rel=0.05)
    assert growth_of(5_000, 40.0, None, readings) is None
    assert growth_of(5_000, 40.0, 60.0, [Reading(tag="T1")]) is None


def test_a_bucket_counts_when_each_point_was_looked_at_and_the_liquid_taken_out():
    """40 CFR 280.36(a)(1)(i)(A)(1) to (5)."""
    assert lacking([Bucket("SB1", monitored=False)], [LOOKED]) == []


@pytest.mark.parametrize(
    ("buckets", "look", "word"),
    [
        ([Bucket("SB1", monitored=False)], None, "SB1 was not looked at"),
        ([Bucket("SB1", monitored=False)], Look(tag="SB1"), "nobody said undamaged, liquid removed"),
        ([Bucket("SB1", monitored=True)], LOOKED, "nobody said interstice dry"),
        ([Bucket("SB1", monitored=False), Bucket("SB2", monitored=False)], LOOKED, "SB2 was not looked at"),
        ([], LOOKED, "no spill bucket"),
    ],
)
def test_what_was_not_looked_at_is_named(buckets, look, word):
    assert word in " ".join(lacking(buckets, [look] if look else []))


def test_liquid_left_in_the_bucket_is_not_removed():
    left = Look(tag="SB1", undamaged=True, liquid_removed=False, fill_pipe_clear=True, cap_secure=True)

    assert lacking([Bucket("SB1", monitored=False)], [left]) == ["SB1: not done: liquid removed."]


def test_damage_is_told_and_the_look_still_counts():
    seen = Look(tag="SB1", undamaged=False, liquid_removed=True, fill_pipe_clear=True, cap_secure=True)

    assert lacking([Bucket("SB1", monitored=False)], [seen]) == []
    assert found([seen]) == ["SB1: is damaged; have it put right and tested before fuel goes through it."]


def test_before_the_regulation_there_is_no_limit():
    """40 CFR Part 280 took effect on 22 December 1988."""
    assert not Setting(on=FEDERAL.on.replace(year=1988, month=12, day=21)).numbers.delivery()

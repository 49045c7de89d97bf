"""Spill buckets and sumps: the procedure beside the limit (PEI RP 1200 sections 6.2, 6.3, 6.5, as surveyed)."""

import pytest

from compliance.protocols import Setting
from tests.compliance.protocols.worked import FEDERAL, judged

CALIFORNIA = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-ca"))
BUCKET = {"method": "liquid", "minutes": 60, "level_change_in": 0.0625}
SUMP = {"method": "liquid", "minutes": 60, "level_change_in": 0.0}
LOW = SUMP | {"low_level": True, "above_sensor_in": 6, "sensor_stopped_pump": True}


def test_a_rise_in_a_bucket_is_void_and_not_a_pass():
    found = judged("spill-bucket-test", **BUCKET | {"level_change_in": -0.0625})

    assert found.outcome == "inconclusive"
    assert found.criterion is not None
    assert found.criterion.id == "bucket-water-rise"


def test_a_rise_in_a_sump_fails():
    assert judged("sump-test", **SUMP | {"level_change_in": -0.25}).outcome == "fail"


@pytest.mark.parametrize(
    "change",
    [{"minutes": 59}, {"below_rim_in": 1.75}, {"settling_minutes": 4}, {"reading_step_in": 0.125}],
    ids=str,
)
def test_a_bucket_test_that_was_not_done_as_it_should_proves_nothing(change):
    assert judged("spill-bucket-test", **BUCKET | change).outcome == "inconclusive"


def test_a_fall_over_the_limit_fails_in_less_than_the_hour():
    assert judged("spill-bucket-test", **BUCKET | {"minutes": 20, "level_change_in": 0.25}).outcome == "fail"


def test_of_a_stated_change_and_two_levels_that_differ_the_larger_counts():
    found = judged("spill-bucket-test", **BUCKET | {"level_start_in": 11, "level_end_in": 10.75})

    assert found.outcome == "fail"
    assert "not the difference" in found.notes[0]


def test_a_vacuum_that_never_reached_thirty_inches_proves_nothing():
    found = judged(
        "spill-bucket-test", method="vacuum", minutes=1, vacuum_start_in_wc=25, vacuum_end_in_wc=20
    )

    assert found.outcome == "inconclusive"


def test_the_method_is_seen_from_the_numbers_where_it_was_not_stated():
    found = judged("spill-bucket-test", minutes=1, vacuum_start_in_wc=30, vacuum_end_in_wc=26)

    assert found.outcome == "pass"


def test_a_sump_is_filled_over_its_entries_or_to_its_top():
    assert judged("sump-test", **SUMP, above_penetration_in=3).outcome == "inconclusive"
    assert judged("sump-test", **SUMP, above_penetration_in=3, below_top_in=1).outcome == "pass"
    assert judged("sump-test", **SUMP, above_penetration_in=4).outcome == "pass"


def test_a_low_level_test_counts_where_the_agency_accepts_it():
    """CA FAQ 16: California does not."""
    assert judged("sump-test", **LOW).outcome == "pass"
    assert judged("sump-test", CALIFORNIA, **LOW).outcome == "inconclusive"


def test_a_low_level_test_hangs_on_the_sensor():
    found = judged("sump-test", **LOW | {"sensor_stopped_pump": None})

    assert judged("sump-test", **LOW | {"sensor_stopped_pump": False}).outcome == "fail"
    assert (found.outcome, found.missing) == ("incomplete", ("sensor_stopped_pump",))

"""Equality at each limit, row by row of the comparison table: it goes opposite ways for tightness and for inventory."""

import pytest

from compliance.protocols import Setting, verdicts
from compliance.protocols.overfill import SHUTOFF
from tests.compliance.protocols.comparison_table import ROWS
from tests.compliance.protocols.worked import FEDERAL, judged

CHECKS = {row.check: row for row in ROWS}
STRICT = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
EQUALITY_FAILS = {"Spill bucket, water, 1 h", "Containment sump, water, 1 h", "Tightness / SIR result"}


@pytest.mark.parametrize("check", CHECKS)
def test_a_number_on_the_limit_goes_the_way_of_its_row(check):
    row = CHECKS[check]

    for case in row.cases:
        found = case.judged("on")
        assert found.outcome == row.equality, f"{check}: {row.pass_when} ({row.source}): {case}"


@pytest.mark.parametrize("check", CHECKS)
def test_a_hair_within_the_limit_passes_and_a_hair_beyond_it_does_not(check):
    row = CHECKS[check]

    for case in row.cases:
        found = case.judged("within").outcome, case.judged("beyond").outcome
        assert found == ("pass", row.beyond), f"{check}: {row.pass_when} ({row.source}): {case}"


@pytest.mark.parametrize("check", CHECKS)
def test_each_row_notices_that_its_comparison_was_flipped(check, monkeypatch):
    """With < for <= and <= for <, every case on its limit comes out otherwise than the table says."""
    row, real = CHECKS[check], verdicts.compares
    monkeypatch.setattr(verdicts, "compares", lambda one, sign, limit: real(one, STRICT[sign], limit))

    for case in row.cases:
        assert case.judged("on").outcome != row.equality, f"{check}: {case}"


def test_the_table_has_thirteen_rows_and_three_of_them_fail_at_equality():
    assert len(ROWS) == len(CHECKS) == 13
    assert {row.check for row in ROWS if row.equality == "fail"} == EQUALITY_FAILS
    assert all(row.source and row.cases for row in ROWS)


def test_wisconsin_does_not_count_a_gain():
    """Wisconsin operator course, section 4.4.2: losses only."""
    wisconsin = Setting(on=FEDERAL.on, jurisdictions=("us-wi",))

    assert judged("inventory-month", wisconsin, throughput_gal=1_000, net_gal=90).outcome == "pass"


def test_a_gain_that_wisconsin_ignores_fails_the_federal_rule_beside_it():
    both = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-wi"))

    found = judged("inventory-month", both, throughput_gal=1_000, net_gal=141)

    assert found.outcome == "fail"
    assert [each.of for each in found.checks if each.holds is False] == ["us-federal"]


def test_gauging_that_rested_less_than_its_row_asks_proves_nothing():
    """EPA table on manual tank gauging: 36 hours up to 550 gal."""
    gauged = {"tank_class": "up to 550 gal", "difference_gal": 0, "month_mean_gal": 0}

    found = [judged("manual-tank-gauging", **gauged, hours=each).outcome for each in (36, 35.9)]

    assert found == ["pass", "inconclusive"]


def test_an_eighth_between_two_stick_readings_is_an_eighth():
    """22.4 - 22.275 is 0.12499999999999645 in binary floating point."""
    found = judged("spill-bucket-test", method="liquid", minutes=60, level_start_in=22.4, level_end_in=22.275)

    assert found.outcome == "fail"


def test_a_percentage_cut_off_on_paper_does_not_save_a_shutoff():
    """94.96 printed as 94.9 is the published worksheet's habit; 95.04 printed as 95.0 would pass by it."""
    setting = Setting(on=FEDERAL.on, overfill_type=SHUTOFF)

    found = judged(
        "overfill-inspection",
        setting,
        acts_at_level=True,
        acts_volume_gal=9_504,
        capacity_gal=10_000,
        set_level_pct=95.0,
    )

    assert found.outcome == "fail"

"""Equality at each limit, one test a row of the comparison table: two of them go the other way than the rest."""

import pytest

from compliance.protocols import Setting
from compliance.protocols.criteria import in_force
from compliance.protocols.overfill import ALARM, RESTRICTOR, SHUTOFF
from tests.compliance.protocols.worked import FEDERAL, judged

JUST = 1e-9


def outcomes(at_limit, beyond):
    return at_limit.outcome, beyond.outcome


def test_federal_inventory_at_one_percent_and_130_gal_passes():
    """40 CFR 280.43(a); read strictly like the Maine form's "greater than"."""
    at, beyond = (judged("inventory-month", throughput_gal=8_000, net_gal=each) for each in (-210.0, -210.1))

    assert outcomes(at, beyond) == ("pass", "fail")
    assert at.margin == 0


def test_maine_inventory_at_one_percent_passes_over_and_short():
    """Maine DEP UST-08."""
    maine = Setting(on=FEDERAL.on, jurisdictions=("us-me",))

    found = [
        judged("inventory-month", maine, throughput_gal=500, net_gal=each).outcome
        for each in (5, -5, 5.1, -5.1)
    ]

    assert found == ["pass", "pass", "fail", "fail"]


def test_wisconsin_inventory_at_half_a_percent_passes_and_gains_do_not_count():
    """Wisconsin operator course, section 4.4.2."""
    wisconsin = Setting(on=FEDERAL.on, jurisdictions=("us-wi",))

    found = [
        judged("inventory-month", wisconsin, throughput_gal=1_000, net_gal=each).outcome
        for each in (-5, -5.01, 90)
    ]

    assert found == ["pass", "fail", "pass"]


def test_a_gain_that_wisconsin_ignores_fails_the_federal_rule_beside_it():
    both = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-wi"))

    found = judged("inventory-month", both, throughput_gal=1_000, net_gal=141)

    assert found.outcome == "fail"
    assert [each.of for each in found.checks if each.holds is False] == ["us-federal"]


@pytest.mark.parametrize(
    ("tank_class", "hours", "weekly", "monthly"),
    [
        ("up to 550 gal", 36, 10, 5),
        ("551 to 1,000 gal, 64 in diameter", 44, 9, 4),
        ("1,000 gal, 48 in diameter", 58, 12, 6),
        ("1,001 to 2,000 gal with tightness tests", 36, 26, 13),
    ],
)
def test_manual_gauging_at_its_standard_passes_weekly_and_monthly(tank_class, hours, weekly, monthly):
    """EPA table on manual tank gauging: the standard is exceeded, not met."""

    def gauged(change, mean, idle=hours):
        return judged(
            "manual-tank-gauging",
            tank_class=tank_class,
            hours=idle,
            difference_gal=change,
            month_mean_gal=mean,
        ).outcome

    assert [gauged(weekly, monthly), gauged(-weekly, -monthly)] == ["pass", "pass"]
    assert [gauged(weekly + 0.1, monthly), gauged(weekly, monthly + 0.1)] == ["fail", "fail"]
    assert gauged(weekly, monthly, hours - 0.5) == "inconclusive"


def test_a_bucket_that_falls_an_eighth_of_an_inch_fails():
    """PEI RP 1200 section 6.2.6."""
    at, under = (
        judged("spill-bucket-test", method="liquid", minutes=60, level_change_in=each)
        for each in (0.125, 0.125 - JUST)
    )

    assert outcomes(at, under) == ("fail", "pass")


def test_an_eighth_between_two_stick_readings_is_an_eighth():
    """22.4 - 22.275 is 0.12499999999999645 in binary floating point."""
    found = judged("spill-bucket-test", method="liquid", minutes=60, level_start_in=22.4, level_end_in=22.275)

    assert found.outcome == "fail"


def test_a_bucket_that_keeps_26_inches_of_vacuum_passes():
    """PEI RP 1200 section 6.3, by a contractor's summary."""
    at, beyond = (
        judged("spill-bucket-test", method="vacuum", minutes=1, vacuum_start_in_wc=30, vacuum_end_in_wc=each)
        for each in (26, 26 - JUST)
    )

    assert outcomes(at, beyond) == ("pass", "fail")


@pytest.mark.parametrize("change", [0.125, -0.125])
def test_a_sump_that_changes_an_eighth_of_an_inch_either_way_fails(change):
    """PEI RP 1200 section 6.5.7."""
    at, under = (
        judged("sump-test", method="liquid", minutes=60, level_change_in=each)
        for each in (change, change * (1 - JUST))
    )

    assert outcomes(at, under) == ("fail", "pass")


def test_a_shutoff_at_95_percent_passes():
    """40 CFR 280.20(c)(1)(ii)(A)."""
    setting = Setting(on=FEDERAL.on, overfill_type=SHUTOFF)
    at, beyond = (
        judged("overfill-inspection", setting, acts_at_level=True, acts_volume_gal=each, capacity_gal=10_000)
        for each in (9_500, 9_500.01)
    )

    assert outcomes(at, beyond) == ("pass", "fail")


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


@pytest.mark.parametrize(("kind", "minutes"), [(ALARM, 1), (RESTRICTOR, 30)])
def test_an_alarm_at_90_percent_or_in_time_passes(kind, minutes):
    """40 CFR 280.20(c)(1)(ii)(B) and (C); EPA alarm page."""
    setting = Setting(on=FEDERAL.on, overfill_type=kind)

    def device(percent, before=None):
        return judged(
            "overfill-inspection", setting, acts_at_level=True, set_level_pct=percent, before_full_min=before
        ).outcome

    assert [device(90), device(90.01)] == ["pass", "fail"]
    assert [device(96, minutes), device(96, minutes - 0.01)] == ["pass", "fail"]


@pytest.mark.parametrize("rate", [0.05, -0.05])
def test_a_tightness_rate_that_meets_its_threshold_fails(rate):
    """State evaluation listings; EPA/530/UST-90/007 practice."""
    at, under = (
        judged("tank-tightness-test", leak_rate_gph=each, threshold_gph=0.05)
        for each in (rate, rate * (1 - JUST))
    )

    assert outcomes(at, under) == ("fail", "pass")


def sir(**changes):
    numbers = {"leak_rate_gph": 0.05, "threshold_gph": 0.1, "minimum_detectable_gph": 0.2} | changes
    return judged("tank-monitoring-result", method="statistical inventory reconciliation", **numbers).outcome


def test_statistics_that_just_find_the_rate_are_conclusive():
    """20 DCMR 6012.2; 23 CCR 2643: 0.2 gal/h at most, threshold half of it at most."""
    assert sir() == "pass"
    assert sir(minimum_detectable_gph=0.2001, threshold_gph=0.1) == "inconclusive"
    assert sir(threshold_gph=0.1001) == "inconclusive"
    assert sir(leak_rate_gph=0.1) == "fail"


def test_a_polarisation_of_100_mv_passes():
    """NACE TM0101-2001 section 10.3.6.1."""
    found = [
        judged(
            "cathodic-protection-test",
            readings=[{"structure": "T1", "native_mv": -500, "instant_off_mv": each}],
        ).outcome
        for each in (-600, -599)
    ]

    assert found == ["pass", "fail"]


def test_a_potential_of_minus_850_mv_passes():
    """NACE criterion: at least as negative."""
    found = [judged("cathodic-protection-test", lowest_mv=each).outcome for each in (-850, -849)]

    assert found == ["pass", "fail"]


def test_hydrostatic_tests_and_inventory_go_opposite_ways_at_equality():
    numbers = in_force(FEDERAL.on, ("us-federal",))

    assert numbers.number("bucket-water-fall").comparison == "<"
    assert judged("inventory-month", throughput_gal=0, net_gal=-130).outcome == "pass"
    assert judged("spill-bucket-test", method="liquid", minutes=60, level_change_in=0.125).outcome == "fail"

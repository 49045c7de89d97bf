"""Tanks and lines: two regimes split by a day, methods that end, and what an electronic detector replaces."""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import component, finding, record, site, standing

ANY, INTERSTITIAL = "tank-monitor-30d-any", "tank-monitor-30d-interstitial"


def tank(*results: dict, **fields: object) -> dict:
    return site(component("tank", **fields), records=list(results))


def line(*results: dict, **fields: object) -> dict:
    return site(component("piping_run", **fields), records=list(results))


def gauged(on: str) -> dict:
    return record("tank-monitoring-result", on, method="automatic tank gauging")


@pytest.mark.parametrize(
    ("installed", "older", "newer"),
    [
        ("2016-04-10", "no record", "not required"),
        ("2016-04-11", "no record", "not required"),
        ("2016-04-12", "not required", "no record"),
    ],
)
def test_a_tank_of_11_april_2016_is_under_the_older_regime(installed, older, newer):
    """40 CFR 280.41(a)(1) and (2): on or before, and after, 11 April 2016."""
    document = tank(installed_on=installed, brought_into_use_on=installed)

    assert standing(document, ANY, "X1", "2025-07-01") == older
    assert standing(document, INTERSTITIAL, "X1", "2025-07-01") == newer


def test_gauge_results_do_not_count_for_a_newer_tank():
    """40 CFR 280.41(a)(2): interstitial monitoring, no other method."""
    document = tank(gauged("2025-06-20"), installed_on="2017-01-01", brought_into_use_on="2017-01-01")

    found = finding(document, INTERSTITIAL, "X1", "2025-07-01")

    assert found.standing == "no record"
    assert len(found.not_counted) == 1


def inventory(installed: str) -> dict:
    return tank(
        installed_on=installed, brought_into_use_on=installed, release_detection=["inventory control"]
    )


def test_inventory_control_ends_with_the_tenth_anniversary():
    """40 CFR 280.41(a)(1)(i): ten years after installation; the anniversary is the last allowed day."""
    document = inventory("2014-06-30")

    assert standing(document, "inventory-control-monthly", "X1", "2024-06-30") == "met"
    assert standing(document, ANY, "X1", "2024-06-30") == "not required"
    assert standing(document, "inventory-control-monthly", "X1", "2024-07-01") == "failed"
    assert standing(document, "tank-tightness-5y", "X1", "2024-07-01") == "not required"


def test_when_inventory_control_ends_the_general_duty_is_due_at_once():
    """40 CFR 280.41(a)(1): nothing is late before the day on which the exemption ended."""
    document = inventory("2014-06-30")

    found = finding(document, ANY, "X1", "2024-07-11")

    assert found.standing in ("overdue", "no record")
    assert (found.due, found.days_late) == (date(2024, 7, 1), 10)


def test_no_ordinary_tank_can_use_inventory_control_after_11_april_2026():
    """40 CFR 280.41(a)(1)(i): the youngest such tank was installed on 11 April 2016."""
    document = inventory("2016-04-11")

    assert standing(document, "inventory-control-monthly", "X1", "2026-04-11") == "met"
    assert standing(document, "inventory-control-monthly", "X1", "2026-04-12") == "failed"


def test_a_leap_day_tank_ends_its_ten_years_on_28_february():
    """40 CFR 280.41(a)(1)(i): 29 February 2012 and ten years; a day that does not exist is the last of its month."""
    document = inventory("2012-02-29")

    assert standing(document, "inventory-control-monthly", "X1", "2022-02-28") == "met"
    assert standing(document, "inventory-control-monthly", "X1", "2022-03-01") == "failed"


@pytest.mark.parametrize(
    ("gallons", "diameter", "hours", "difference", "expected"),
    [
        (550, None, 36, 10, "met"),
        (550, None, 36, 10.1, "no record"),
        (550, None, 35, 10, "no record"),
        (1000, 64, 44, -9, "met"),
        (1000, 64, 44, -9.1, "no record"),
        (1000, 48, 58, 12, "met"),
        (1000, 48, 57, 12, "no record"),
        (1000, 60, 36, 13, "met"),
        (2000, None, 36, 26, "met"),
        (2000, None, 36, 26.1, "no record"),
    ],
)
def test_a_hand_gauged_tank_follows_the_row_of_its_size(gallons, diameter, hours, difference, expected):
    """The table of 40 CFR 280.43(b)(4) (EPA 510-B-93-005)."""
    document = tank(
        record("manual-tank-gauging", "2025-06-28", hours=hours, difference_gal=difference),
        installed_on="2015-07-15",
        brought_into_use_on="2015-07-15",
        release_detection=["manual tank gauging"],
        compartment_capacity_gallons=gallons,
        diameter_in=diameter,
    )

    found = finding(document, "manual-gauging-weekly", "X1", "2025-06-28").standing

    assert {"due soon": "met"}.get(found, found) == expected


def test_a_tank_above_2000_gallons_cannot_be_gauged_by_hand():
    """40 CFR 280.43(b)(5); EPA page on manual tank gauging."""
    document = tank(
        installed_on="2010-01-01",
        brought_into_use_on="2010-01-01",
        release_detection=["manual tank gauging"],
        compartment_capacity_gallons=2001,
    )

    assert standing(document, "manual-gauging-weekly", "X1", "2025-07-01") == "not required"
    assert standing(document, ANY, "X1", "2025-07-01") == "no record"
    assert standing(document, "no-method-must-close", "X1", "2025-07-01") == "failed"


def test_a_divided_tank_owes_through_its_compartments():
    """40 CFR 280.41(a): each compartment holds its own product and method; the shell's age splits the regimes."""
    document = site(
        component("tank", installed_on="2010-01-01", compartmentalized_ust=True),
        component("compartment", "C1", parent="X1", brought_into_use_on="2010-01-01"),
    )

    assert standing(document, ANY, "X1", "2025-07-01") == "not required"
    assert standing(document, ANY, "C1", "2025-07-01") == "no record"


def test_a_generator_tank_owes_since_october_2018_and_a_newer_one_from_installation():
    """40 CFR 280.10(a)(1)(ii), (iii)."""
    old = tank(installed_on="2015-10-13", emergency_generator=True)
    new = tank(installed_on="2015-10-14", emergency_generator=True)

    assert finding(old, "emergency-generator-rd", "X1", "2018-10-13").due == date(2018, 10, 13)
    assert finding(new, "emergency-generator-rd", "X1", "2018-10-13").due == date(2015, 10, 14)


TIGHT = {"detectable_leak_gph": 0.1, "pressure_ratio": 1.5}


def test_an_electronic_line_test_stands_in_for_the_annual_one_but_not_for_the_simulated_leak():
    """40 CFR 280.44(b) and 280.40(a)(3)(iii); EPA technical compendium on release detection, question 2."""
    run = component(
        "piping_run", piping_style="pressure", installed_on="2010-01-01", brought_into_use_on="2010-01-01"
    )
    detector = component("line_leak_detector", "LD1", parent="X1", brought_into_use_on="2010-01-01")
    document = site(run, detector, records=[record("electronic-line-test", "2025-06-01", **TIGHT)])

    assert standing(document, "pressurised-line-tightness-annual", "X1", "2025-07-01") == "met"
    assert standing(document, "annual-alld-test", "LD1", "2025-07-01") == "no record"


@pytest.mark.parametrize("short", [{"detectable_leak_gph": 0.11}, {"pressure_ratio": 1.49}])
def test_a_line_test_that_is_not_fine_enough_or_not_hard_enough_is_not_counted(short):
    """40 CFR 280.44(b): 0.1 gallon an hour at one and a half times the operating pressure."""
    document = line(
        record("line-tightness-test", "2025-06-01", **{**TIGHT, **short}),
        piping_style="pressure",
        installed_on="2010-01-01",
        brought_into_use_on="2010-01-01",
    )

    found = finding(document, "pressurised-line-tightness-annual", "X1", "2025-07-01")

    assert found.standing == "no record"
    assert len(found.not_counted) == 1


@pytest.mark.parametrize(
    ("measured", "expected"),
    [
        ({"simulated_leak": True, "leak_rate_gph": 3.0, "minutes_to_detect": 60}, "met"),
        ({"simulated_leak": True, "leak_rate_gph": 3.1, "minutes_to_detect": 60}, "no record"),
        ({"simulated_leak": True, "leak_rate_gph": 3.0, "minutes_to_detect": 61}, "no record"),
        ({"simulated_leak": False, "leak_rate_gph": 3.0, "minutes_to_detect": 5}, "no record"),
        ({"simulated_leak": True, "leak_rate_gph": 3.0}, "cannot decide"),
    ],
)
def test_a_detector_has_to_find_three_gallons_an_hour_within_an_hour(measured, expected):
    """40 CFR 280.44(a)."""
    detector = component("line_leak_detector", brought_into_use_on="2010-01-01")
    document = site(detector, records=[record("line-leak-detector-test", "2025-06-01", **measured)])

    assert standing(document, "annual-alld-test", "X1", "2025-07-01") == expected


def test_choosing_monthly_monitoring_switches_the_annual_test_off():
    """40 CFR 280.41(b)(1)(i)(B): one or the other; the first result is due on the day of the switch."""
    document = line(piping_style="pressure", installed_on="2010-01-01", brought_into_use_on="2010-01-01")
    document["changes"] = [
        {"of": "X1", "on": "2025-06-10", "elected_piping_release_detection": "monthly monitoring"}
    ]

    assert standing(document, "pressurised-line-tightness-annual", "X1", "2025-06-09") == "no record"
    assert standing(document, "pressurised-line-tightness-annual", "X1", "2025-06-10") == "not required"
    assert finding(document, "pressurised-line-monthly-monitoring", "X1", "2025-06-15").due == date(
        2025, 6, 10
    )


@pytest.mark.parametrize("absent", [None, False])
@pytest.mark.parametrize(
    "feature",
    [
        "below_atmospheric",
        "slopes_to_tank",
        "single_check_valve",
        "check_valve_under_pump",
        "features_verifiable",
    ],
)
def test_safe_suction_needs_every_one_of_its_features(feature, absent):
    """40 CFR 280.41(b)(1)(ii)(A)-(E): one that is missing or unknown, and the line owes its test."""
    features = dict.fromkeys(
        [
            "below_atmospheric",
            "slopes_to_tank",
            "single_check_valve",
            "check_valve_under_pump",
            "features_verifiable",
        ],
        True,
    )
    run = {"piping_style": "suction", "installed_on": "2010-01-01", "brought_into_use_on": "2010-01-01"}

    assert (
        standing(line(**run, **features), "suction-line-tightness-3y", "X1", "2025-07-01") == "not required"
    )
    assert (
        standing(
            line(**run, **{**features, feature: absent}), "suction-line-tightness-3y", "X1", "2025-07-01"
        )
        == "no record"
    )


def test_half_a_run_replaced_pulls_the_whole_run_into_interstitial_monitoring():
    """40 CFR 280.20 intro, 280.41(b)(2): from the day of the replacement, not before."""
    document = line(piping_style="pressure", installed_on="2005-01-01", brought_into_use_on="2005-01-01")
    document["changes"] = [{"of": "X1", "on": "2025-05-01", "replaced_on": "2025-05-01"}]

    assert standing(document, "new-piping-interstitial-30d", "X1", "2025-04-30") == "not required"
    assert finding(document, "new-piping-interstitial-30d", "X1", "2025-05-10").due == date(2025, 5, 31)
    assert standing(document, "pressurised-line-tightness-annual", "X1", "2025-05-10") == "not required"


def test_newer_pressurised_piping_keeps_its_line_leak_detector():
    """40 CFR 280.41(b)(2)(i): interstitial monitoring does not replace it."""
    document = line(piping_style="pressure", installed_on="2017-01-01", piping_line_leak_detector=False)

    assert standing(document, "pressurised-alld-present", "X1", "2025-07-01") == "failed"


def test_a_rectifier_is_looked_at_only_where_current_is_impressed():
    """40 CFR 280.31(c)."""
    document = site(component("cathodic_protection", cp_type="galvanic", installed_on="2010-01-01"))

    assert standing(document, "cp-impressed-60-days", "X1", "2025-07-01") == "not required"


def test_a_cathodic_test_after_repair_restarts_the_three_years():
    """40 CFR 280.33(e) with 280.31(b)(1); Minn. R. 7150.0215 says so outright."""
    done = [
        record("cathodic-protection-test", "2024-01-10"),
        record("repair", "2025-03-01", id="R1"),
        record("cathodic-protection-test", "2025-06-15"),
    ]
    document = site(component("cathodic_protection", installed_on="2010-01-01"), records=done)

    assert standing(document, "cp-test-after-repair", "R1", "2025-07-01") == "met"
    assert finding(document, "cp-test-3-years", "X1", "2025-07-01").due == date(2028, 6, 15)


def test_a_lined_tank_is_opened_after_ten_years_and_then_every_five():
    """40 CFR 280.21(b)(1)(ii): lining alone; together with cathodic protection it is exempt."""
    lined = {"lined_on": "2012-02-29", "installed_on": "1985-01-01"}

    alone = finding(tank(cp_type="none", **lined), "lining-inspection", "X1", "2022-02-28")

    assert (alone.standing, alone.due) == ("due soon", date(2022, 2, 28))
    assert (
        standing(tank(cp_type="galvanic", **lined), "lining-inspection", "X1", "2025-07-01") == "not required"
    )

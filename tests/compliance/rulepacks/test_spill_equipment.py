"""Spill buckets, sumps and overfill devices: first dates, proven exemptions, and walls no longer watched."""

from datetime import date

from tests.compliance.rulepacks.federal import closed, component, finding, in_use, record, site, standing

BUCKET = "spill-bucket-tightness-3y"
STOPPED = "dual-wall-monitoring-stopped-test"


def bucket(*tests: str, method: str = "liquid", **fields: object) -> dict:
    done = [record("spill-bucket-test", on, method=method) for on in tests]
    return site(component("spill_bucket", **fields), records=done)


def test_equipment_of_the_day_the_rule_took_effect_was_due_first_in_october_2018():
    """40 CFR 280.35(b): in use on or before 13 October 2015."""
    document = bucket(brought_into_use_on="2015-10-13")

    assert finding(document, BUCKET, "X1", "2018-10-13").due == date(2018, 10, 13)
    assert standing(document, BUCKET, "X1", "2018-10-13") == "due soon"
    assert standing(document, BUCKET, "X1", "2018-10-14") == "no record"


def test_equipment_of_the_day_after_is_due_when_it_comes_into_use():
    """40 CFR 280.35(b): brought into use after 13 October 2015."""
    document = bucket(brought_into_use_on="2015-10-14")

    assert finding(document, BUCKET, "X1", "2015-10-14").due == date(2015, 10, 14)
    assert standing(document, BUCKET, "X1", "2015-10-15") == "no record"


def test_a_test_of_2017_was_due_again_in_2020():
    """40 CFR 280.35(a)(1)(ii): three years from the last test, not from October 2018."""
    document = bucket("2017-05-20", brought_into_use_on="2010-01-01")

    assert finding(document, BUCKET, "X1", "2019-01-01").due == date(2020, 5, 20)


def test_there_was_no_such_duty_before_the_rule():
    """80 FR 41566: effective 13 October 2015."""
    document = bucket(brought_into_use_on="2010-01-01")

    assert standing(document, BUCKET, "X1", "2015-10-12") == "not required"


def test_a_look_is_no_test_and_is_listed_as_not_counted():
    """40 CFR 280.35(a)(1)(ii): vacuum, pressure or liquid."""
    found = finding(
        bucket("2025-05-20", method="visual", brought_into_use_on="2010-01-01"), BUCKET, "X1", "2025-06-01"
    )

    assert found.standing == "no record"
    assert len(found.not_counted) == 1


def test_a_test_without_its_method_cannot_decide():
    """40 CFR 280.35(a)(1)(ii): whether it was vacuum, pressure or liquid would decide."""
    document = bucket("2025-05-20", brought_into_use_on="2010-01-01")
    del document["records"][0]["measurements"]["method"]

    assert standing(document, BUCKET, "X1", "2025-06-01") == "cannot decide"


def test_fills_of_25_gallons_exempt_and_of_26_do_not():
    """40 CFR 280.20(c)(2)(ii): transfers of no more than 25 gallons at one time."""
    small = bucket(brought_into_use_on="2010-01-01", fill_max_gal_per_transfer=25)
    large = bucket(brought_into_use_on="2010-01-01", fill_max_gal_per_transfer=26)

    assert standing(small, BUCKET, "X1", "2025-06-01") == "not required"
    assert standing(large, BUCKET, "X1", "2025-06-01") == "no record"


def test_a_claimed_exemption_without_its_fact_exempts_nobody():
    """40 CFR 280.20(c)(2)(ii): whoever claims it shows it. The fact is named as one that could change the answer."""
    found = finding(bucket(brought_into_use_on="2010-01-01"), BUCKET, "X1", "2025-06-01")

    assert found.standing == "no record"
    assert "fill_max_gal_per_transfer" in {blank.field for blank in found.could_change}


def test_a_replaced_bucket_inherits_no_test():
    """40 CFR 280.35(b): the new one is tested when it comes into use."""
    old = component("spill_bucket", brought_into_use_on="2010-01-01", removed_on="2025-03-01")
    new = component(
        "spill_bucket", "X2", replaces="X1", installed_on="2025-03-01", brought_into_use_on="2025-03-01"
    )
    document = site(old, new, records=[record("spill-bucket-test", "2024-05-20", method="liquid")])

    assert standing(document, BUCKET, "X2", "2025-03-02") == "no record"
    assert standing(document, BUCKET, "X1", "2025-03-02") == "not required"


def watched_until(stop: str, *tests: str) -> dict:
    """Both walls of a double-walled bucket watched, until that day."""
    document = bucket(
        *tests, brought_into_use_on="2016-01-01", spill_bucket_wall_type="double", both_walls_monitored=True
    )
    return {**document, "changes": [{"of": "X1", "on": stop, "both_walls_monitored": False}]}


def test_while_both_walls_are_watched_no_test_is_required():
    """40 CFR 280.35(a)(1)(i)."""
    document = watched_until("2025-04-10")

    assert standing(document, BUCKET, "X1", "2025-04-09") == "not required"
    assert standing(document, STOPPED, "X1", "2025-04-09") == "not required"


def test_when_watching_stops_thirty_days_are_left_for_the_test():
    """40 CFR 280.35(a)(1)(i): one duty at a time; the three-year rule is on from day 31, and due that day."""
    document = watched_until("2025-04-10")

    assert finding(document, STOPPED, "X1", "2025-05-10").due == date(2025, 5, 10)
    assert standing(document, BUCKET, "X1", "2025-05-10") == "not required"
    assert standing(document, STOPPED, "X1", "2025-05-11") == "overdue"
    assert finding(document, BUCKET, "X1", "2025-05-11").due == date(2025, 5, 11)
    assert standing(document, BUCKET, "X1", "2025-05-12") == "no record"


def test_the_test_after_watching_stopped_begins_the_three_years():
    """40 CFR 280.35(a)(1)(i) and (ii)."""
    document = watched_until("2025-04-10", "2025-05-05")

    assert standing(document, STOPPED, "X1", "2025-06-01") == "met"
    assert finding(document, BUCKET, "X1", "2025-06-01").due == date(2028, 5, 5)


def test_walls_that_never_were_watched_owe_the_test_and_no_thirty_days():
    """40 CFR 280.35(a)(1)(i): nothing was discontinued."""
    document = bucket(
        brought_into_use_on="2016-01-01", spill_bucket_wall_type="double", both_walls_monitored=False
    )

    assert standing(document, STOPPED, "X1", "2025-06-01") == "not required"
    assert standing(document, BUCKET, "X1", "2025-06-01") == "no record"


def test_a_test_that_lapsed_while_closed_is_due_on_the_day_of_return():
    """40 CFR 280.70(a): no grace is stated."""
    document = bucket("2021-05-20", brought_into_use_on="2010-01-01")
    document["changes"] = [closed("2023-11-01"), in_use("2025-04-15")]

    assert standing(document, BUCKET, "X1", "2025-04-14") == "suspended"
    assert finding(document, BUCKET, "X1", "2025-04-15").due == date(2025, 4, 15)
    assert standing(document, BUCKET, "X1", "2025-04-16") == "overdue"


def test_closing_in_mid_interval_does_not_stretch_it():
    """40 CFR 280.70(a): nothing in the text stretches an interval."""
    document = bucket("2023-05-20", brought_into_use_on="2010-01-01")
    document["changes"] = [closed("2023-11-01"), in_use("2024-04-15")]

    assert finding(document, BUCKET, "X1", "2025-01-01").due == date(2026, 5, 20)


def test_one_sump_is_walked_but_tested_only_where_piping_is_monitored_through_it():
    """40 CFR 280.36(a)(1)(ii)(A) is about every sump, 280.35(a) about those used for interstitial monitoring."""
    document = site(
        component(
            "containment_sump", brought_into_use_on="2010-01-01", used_for_interstitial_monitoring=False
        )
    )

    assert standing(document, "walkthrough-annual-sump", "X1", "2025-06-01") == "no record"
    assert standing(document, "sump-tightness-3y", "X1", "2025-06-01") == "not required"


def test_small_fills_exempt_no_sump():
    """40 CFR 280.20(c)(2)(ii) is about spill and overfill equipment only."""
    sump = component("containment_sump", "CS1", parent="T1", used_for_interstitial_monitoring=True)
    document = site(component("tank", "T1", fill_max_gal_per_transfer=20), sump)

    assert standing(document, "sump-tightness-3y", "CS1", "2025-06-01") == "no record"


def test_an_overfill_device_has_no_way_around_by_double_walls():
    """40 CFR 280.35(a)(2)."""
    document = site(
        component("overfill_device", overfill_type="vent flow restrictor", brought_into_use_on="2005-01-01")
    )

    assert standing(document, "overfill-inspection-3y", "X1", "2025-06-01") == "no record"


def test_an_inspection_that_only_checked_the_setting_is_not_counted():
    """40 CFR 280.35(a)(2): set at the level, and acts when product reaches it."""
    done = record("overfill-inspection", "2025-05-01", set_at_required_level=True, acts_at_level=False)
    document = site(component("overfill_device", brought_into_use_on="2005-01-01"), records=[done])

    found = finding(document, "overfill-inspection-3y", "X1", "2025-06-01")

    assert found.standing == "no record"
    assert len(found.not_counted) == 1


def test_a_post_repair_test_answers_the_retest_and_restarts_the_three_years():
    """40 CFR 280.33(f) with 280.35(a)(1)(ii): both by the same test (interpretation)."""
    document = bucket("2024-01-10", "2025-05-20", brought_into_use_on="2010-01-01")
    document["records"].append(record("repair", "2025-05-02", id="R1"))

    assert standing(document, "retest-spill-overfill-after-repair", "R1", "2025-06-01") == "met"
    assert finding(document, BUCKET, "X1", "2025-06-01").due == date(2028, 5, 20)

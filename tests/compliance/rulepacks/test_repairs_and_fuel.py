"""Repairs that need no test afterwards, and blends that need no notice beforehand."""

import pytest

from tests.compliance.rulepacks.federal import component, record, site, standing


@pytest.mark.parametrize(
    ("blend", "expected"),
    [
        ({"to_ethanol_pct": 10, "to_biodiesel_pct": 20}, "not required"),
        ({"to_ethanol_pct": 10.5, "to_biodiesel_pct": 0}, "due soon"),
        ({"to_ethanol_pct": 0, "to_biodiesel_pct": 20.5}, "due soon"),
    ],
)
def test_a_switch_is_told_above_e10_and_b20(blend, expected):
    """40 CFR 280.32(b)."""
    plan = {"id": "PL1", "type": "fuel switch", "planned_on": "2025-08-01", **blend}

    assert standing(site(plans=[plan]), "fuel-switch-notice", "PL1", "2025-06-01") == expected


def test_a_repair_that_opened_the_tank_or_a_watched_part_needs_no_test():
    """40 CFR 280.33(d)(1), (2)."""
    opened = site(
        component("tank"),
        records=[record("repair", "2025-05-01", id="R1", part="shell", internally_inspected=True)],
    )
    watched = site(
        component("piping_run", part_monitored_monthly=True),
        records=[record("repair", "2025-05-01", id="R1", part="union")],
    )

    assert standing(opened, "retest-tank-or-line-after-repair", "R1", "2025-07-01") == "not required"
    assert standing(watched, "retest-tank-or-line-after-repair", "R1", "2025-07-01") == "not required"


def replaced(fraction: float, on: str = "2025-05-01") -> dict:
    return site(
        component("piping_run", piping_wall_type="single walled"),
        records=[record("piping-replacement", on, id="R1", fraction_replaced=fraction)],
    )


def test_less_than_half_a_run_is_a_repair_and_half_is_a_new_run():
    """40 CFR 280.33(d) and 280.12 replaced: 50 percent or more."""
    assert standing(replaced(0.49), "retest-tank-or-line-after-repair", "R1", "2025-07-01") == "overdue"
    assert standing(replaced(0.5), "retest-tank-or-line-after-repair", "R1", "2025-07-01") == "not required"
    assert standing(replaced(0.5), "replaced-run-whole-containment", "R1", "2025-07-01") == "failed"


def test_a_run_replaced_on_11_april_2016_need_not_be_contained():
    """40 CFR 280.20 intro: after 11 April 2016."""
    older, newer = replaced(0.5, on="2016-04-11"), replaced(0.5, on="2016-04-12")

    assert standing(older, "replaced-run-whole-containment", "R1", "2025-07-01") == "not required"
    assert standing(newer, "replaced-run-whole-containment", "R1", "2025-07-01") == "failed"


TESTS = [
    ("tank", "tank-tightness-test", {"detectable_leak_gph": 0.1}, "met"),
    ("tank", "tank-tightness-test", {"detectable_leak_gph": 0.105}, "overdue"),
    ("piping_run", "line-tightness-test", {"detectable_leak_gph": 0.1, "pressure_ratio": 1.5}, "met"),
    ("piping_run", "line-tightness-test", {"detectable_leak_gph": 0.105, "pressure_ratio": 1.5}, "overdue"),
    ("piping_run", "line-tightness-test", {"detectable_leak_gph": 0.1, "pressure_ratio": 1.4}, "overdue"),
]


@pytest.mark.parametrize(("kind", "activity", "measured", "expected"), TESTS)
def test_a_test_after_repair_meets_the_figures_of_its_method(kind, activity, measured, expected):
    """40 CFR 280.33(d) names 280.43(c) and 280.44(b)."""
    done = [
        record("repair", "2025-05-01", id="R1", part="fitting"),
        record(activity, "2025-05-10", **measured),
    ]

    assert (
        standing(site(component(kind), records=done), "retest-tank-or-line-after-repair", "R1", "2025-07-01")
        == expected
    )


@pytest.mark.parametrize(
    ("set_right", "acts", "expected"),
    [(True, True, "met"), (False, True, "overdue"), (True, False, "overdue")],
)
def test_a_repaired_overfill_device_is_inspected_in_full(set_right, acts, expected):
    """40 CFR 280.33(f) with 280.35(a)(2)."""
    done = [
        record("repair", "2025-05-01", id="R1"),
        record("overfill-inspection", "2025-05-10", set_at_required_level=set_right, acts_at_level=acts),
    ]
    document = site(component("overfill_device"), records=done)

    assert standing(document, "retest-spill-overfill-after-repair", "R1", "2025-07-01") == expected

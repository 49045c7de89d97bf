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

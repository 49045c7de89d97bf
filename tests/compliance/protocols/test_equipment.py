"""Consoles, probes, vacuum pumps (40 CFR 280.40(a)(3), 280.45(b)(1)), rectifiers (280.31(c)), a dock's equipment."""

import pytest

from compliance.protocols import Setting, verdict
from tests.compliance.protocols.worked import FEDERAL, judged

CALIFORNIA = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-ca"))
GOOD = {
    "controller-test": {"alarm_ok": True, "configuration_ok": True, "battery_ok": True},
    "probe-sensor-test": {"alarm_ok": True, "communicates": True},
    "vacuum-pressure-test": {"communicates": True},
    "rectifier-check": {"amps": 5.1, "volts": 12.4, "switched_on": True},
    "emergency-shutoff-test": {"stops_all": True, "hand_reset": True},
}
LINE = {"start_psi": 50, "end_psi": 50, "minutes": 30, "max_operating_psi": 50}


@pytest.mark.parametrize("slug", GOOD)
def test_what_the_paragraph_asks_for_is_enough_to_pass(slug):
    assert judged(slug, **GOOD[slug]).outcome == "pass"


@pytest.mark.parametrize(("slug", "name"), [(slug, name) for slug, shown in GOOD.items() for name in shown])
def test_each_finding_alone_fails_the_test(slug, name):
    bad = 0 if name in ("amps", "volts") else False

    assert judged(slug, **GOOD[slug] | {name: bad}).outcome == "fail"


@pytest.mark.parametrize("name", ["float_moves", "shaft_ok", "cables_ok", "in_position"])
def test_a_probe_that_is_not_whole_or_not_in_its_place_fails(name):
    assert judged("probe-sensor-test", **GOOD["probe-sensor-test"], **{name: False}).outcome == "fail"


@pytest.mark.parametrize("slug", ["controller-test", "probe-sensor-test", "vacuum-pressure-test"])
def test_equipment_that_needs_action_does_not_pass(slug):
    """40 CFR 280.45(b)(1): each component meets the criteria or needs to have action taken."""
    assert judged(slug, **GOOD[slug], action_needed=True).outcome == "fail"
    assert judged(slug, **GOOD[slug], action_needed=False).outcome == "pass"


def test_residue_that_was_cleaned_off_is_no_failure():
    assert judged("probe-sensor-test", **GOOD["probe-sensor-test"], residue=True).outcome == "pass"


def test_a_probe_agrees_with_the_stick_to_the_sticks_own_step():
    """Common practice, no source: 1/8 in; PEI RP 1200 section 7.3 asks that they agree."""
    found = [
        judged("probe-sensor-test", **GOOD["probe-sensor-test"], reading_in=40, stick_in=each).outcome
        for each in (39.875, 40.125, 40.126)
    ]

    assert found == ["pass", "pass", "fail"]


def test_a_rectifier_far_from_its_usual_output_is_noted_and_nothing_more():
    """Common practice, no source: a fifth."""
    found = judged("rectifier-check", **GOOD["rectifier-check"], normal_volts=12.4, normal_amps=6.5)

    assert found.outcome == "pass"
    assert len(found.notes) == 1
    assert "5.1 A is more than a fifth away from the 6.5 A" in found.notes[0]
    assert judged("rectifier-check", amps=5.2, normal_amps=6.5).notes == ()


def test_dock_piping_that_holds_its_highest_pressure_for_half_an_hour_passes():
    """8 CCR 5569(a)(4): 30 minutes at the system's maximum operating pressure, no loss."""
    assert judged("dock-line-pressure-test", CALIFORNIA, **LINE).outcome == "pass"
    assert judged("dock-line-pressure-test", CALIFORNIA, **LINE | {"end_psi": 49.9}).outcome == "fail"


@pytest.mark.parametrize("change", [{"minutes": 29.9}, {"start_psi": 49.9, "end_psi": 49.9}], ids=str)
def test_dock_piping_held_too_short_or_under_too_little_proves_nothing(change):
    assert judged("dock-line-pressure-test", CALIFORNIA, **LINE | change).outcome == "inconclusive"


@pytest.mark.parametrize("name", LINE)
def test_dock_piping_without_one_of_its_numbers_names_it(name):
    found = judged("dock-line-pressure-test", CALIFORNIA, **LINE | {name: None})

    assert (found.outcome, found.missing) == ("incomplete", (name,))


def test_fuel_that_warmed_may_hide_a_loss():
    found = judged("dock-line-pressure-test", CALIFORNIA, **LINE, start_degf=60, end_degf=64.5)

    assert found.outcome == "pass"
    assert "from 60 to 64.5 °F: it warmed and may hide a loss" in found.notes[0]


def test_dock_piping_outside_california_has_no_criterion_on_file():
    assert verdict("dock-line-pressure-test", LINE, "pass", setting=FEDERAL) is None


@pytest.mark.parametrize(("feet", "outcome"), [(19.9, "fail"), (20, "pass"), (100, "pass"), (100.1, "fail")])
def test_an_emergency_shutoff_stands_twenty_to_a_hundred_feet_away(feet, outcome):
    """NYC Fire Code section 2204; IFC section 2303.2 carries similar distances (from memory, unverified)."""
    found = judged("emergency-shutoff-test", **GOOD["emergency-shutoff-test"], distance_ft=feet)

    assert found.outcome == outcome


@pytest.mark.parametrize("name", ["reachable", "sign_present"])
def test_an_emergency_shutoff_that_nobody_finds_fails(name):
    found = judged("emergency-shutoff-test", **GOOD["emergency-shutoff-test"], **{name: False})

    assert found.outcome == "fail"

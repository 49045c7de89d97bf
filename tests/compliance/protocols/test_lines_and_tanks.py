"""Line leak detectors (40 CFR 280.44(a); RP 1200 C-9), tightness (280.43(c), 280.44(b)) and wells (280.43(f))."""

import pytest

from compliance.protocols import Setting
from equipment.physics.units import convert
from tests.compliance.protocols.answers_tests import SOUND_DETECTOR
from tests.compliance.protocols.worked import FEDERAL, judged

DETECTOR = "line-leak-detector-test"
LINE = {"leak_rate_gph": 0.004, "threshold_gph": 0.05, "test_psi": 45, "operating_psi": 30}
TANK = {"leak_rate_gph": 0.012, "threshold_gph": 0.05}
WELL = {"method": "groundwater monitoring", "free_product_in": 0, "depth_to_water_ft": 12}


def test_a_leak_set_at_another_pressure_is_carried_to_ten_psi():
    """3 gal/h at 10 psi is 4.243 at 20 psi (EPA compendium, question 3)."""
    equal = judged(DETECTOR, **SOUND_DETECTOR | {"leak_rate_gph": 4.242, "psi": 20})
    larger = judged(DETECTOR, **SOUND_DETECTOR | {"leak_rate_gph": 4.244, "psi": 20})

    assert (equal.outcome, larger.outcome) == ("pass", "inconclusive")


@pytest.mark.parametrize(("ml", "outcome"), [(189, "pass"), (190, "inconclusive"), (250, "inconclusive")])
def test_189_ml_in_a_minute_is_the_leak_and_more_proves_nothing(ml, outcome):
    """RP 1200 section 9.1, by a summary; 3 gal/h is 189.27 mL a minute."""
    assert judged(DETECTOR, **SOUND_DETECTOR | {"leak_ml": ml, "leak_collected_s": 60}).outcome == outcome


@pytest.mark.parametrize(
    ("ml_min", "found", "missed"),
    [
        (189, "pass", "fail"),
        (189.3, "pass", "fail"),
        (189.7, "inconclusive", "fail"),
        (190, "inconclusive", "fail"),
        (188, "pass", "inconclusive"),
    ],
)
def test_a_stated_rate_is_the_leak_within_its_last_digit_and_missing_it_fails_to_the_millilitre(
    ml_min, found, missed
):
    """RP 1200 section 9.1, by a summary: 189 mL in 60 s; 3 gal/h is 189.27 (1 gal = 3.785411784 L)."""
    rate = {"leak_rate_gph": convert(ml_min, "ml_min", "gph")}

    outcomes = [
        judged(DETECTOR, **SOUND_DETECTOR | rate | more).outcome for more in ({}, {"response": "none"})
    ]

    assert outcomes == [found, missed]


def test_missing_the_leak_of_189_ml_a_minute_fails():
    """189 is 3 gal/h as read to a millilitre, not a smaller leak."""
    leak = {"leak_ml": 189, "leak_collected_s": 60, "response": "none"}

    assert judged(DETECTOR, **SOUND_DETECTOR | leak).outcome == "fail"


def test_the_step_through_time_is_the_time_to_the_answer():
    found = [judged(DETECTOR, **SOUND_DETECTOR | {"step_through_s": each}).outcome for each in (3_600, 3_601)]

    assert found == ["pass", "fail"]


@pytest.mark.parametrize(("ml", "outcome"), [(32, "pass"), (33, "inconclusive")])
def test_a_volume_read_to_the_millilitre_is_given_its_half(ml, outcome):
    """Ten seconds of 3 gal/h are 31.5 mL, which a measuring glass shows as 32."""
    assert judged(DETECTOR, **SOUND_DETECTOR | {"leak_ml": ml, "leak_collected_s": 10}).outcome == outcome


def test_a_detector_that_does_not_answer_fails():
    found = judged(DETECTOR, **SOUND_DETECTOR | {"response": "none"})

    assert found.outcome == "fail"
    assert found.criterion is not None
    assert found.criterion.id == "detector-answers"


def test_missing_a_leak_that_is_too_small_proves_nothing():
    found = judged(DETECTOR, **SOUND_DETECTOR | {"leak_rate_gph": 2, "response": "none"})

    assert found.outcome == "inconclusive"
    assert "smaller" in found.notes[0]


def test_finding_a_leak_that_is_too_small_passes():
    assert judged(DETECTOR, **SOUND_DETECTOR | {"leak_rate_gph": 2}).outcome == "pass"


def test_the_units_own_test_key_makes_no_leak():
    assert judged(DETECTOR, **SOUND_DETECTOR | {"simulated_leak": False}).outcome == "inconclusive"


def test_a_leak_without_its_pressure_is_incomplete():
    found = judged(DETECTOR, **SOUND_DETECTOR | {"psi": None})

    assert (found.outcome, found.missing) == ("incomplete", ("psi",))


def test_an_electronic_detector_answers_by_alarm_or_shutdown_within_the_hour():
    electronic = {"leak_rate_gph": 3, "psi": 10, "alarm_ok": True, "shutdown_ok": False}

    found = [judged(DETECTOR, **electronic, minutes_to_detect=each).outcome for each in (60, 60.5)]

    assert found == ["pass", "fail"]
    assert judged(DETECTOR, **electronic | {"alarm_ok": False}, minutes_to_detect=5).outcome == "fail"


def test_a_line_is_tested_at_one_and_a_half_times_its_pressure():
    assert judged("line-tightness-test", **LINE).outcome == "pass"
    assert judged("line-tightness-test", **LINE | {"test_psi": 44}).outcome == "inconclusive"
    assert judged("line-tightness-test", **LINE | {"test_psi": None}).missing == ("pressure_ratio",)


def test_a_lines_rate_is_taken_from_the_volume_that_held_the_pressure():
    """3.1545 mL a minute is 0.05 gal/h."""
    readings = [{"minutes": 0, "psi": 45}, {"minutes": 60, "psi": 45, "added_ml": 189.3}]

    found = judged("line-tightness-test", **LINE | {"leak_rate_gph": None, "readings": readings})

    assert found.measured == pytest.approx(0.05, abs=1e-4)
    assert found.outcome == "fail"


def test_readings_that_begin_later_count_from_their_beginning():
    """94.7 mL in the half hour from minute 30 to 60 is 0.05 gal/h."""
    readings = [{"minutes": 30, "psi": 45}, {"minutes": 60, "psi": 45, "added_ml": 94.7}]

    found = judged("line-tightness-test", **LINE | {"leak_rate_gph": None, "readings": readings})

    assert found.measured == pytest.approx(0.05, abs=1e-4)


def test_a_threshold_that_lies_too_high_saves_no_leak():
    assert judged("tank-tightness-test", leak_rate_gph=0.1, threshold_gph=0.2).outcome == "fail"


def test_a_rate_that_reaches_the_leak_to_be_found_fails_without_a_threshold():
    found = judged("line-tightness-test", **LINE | {"threshold_gph": None, "leak_rate_gph": 0.1})
    small = judged("line-tightness-test", **LINE | {"threshold_gph": None})

    assert found.outcome == "fail"
    assert (small.outcome, small.missing) == ("incomplete", ("threshold_gph",))


def test_a_threshold_as_high_as_the_leak_to_be_found_proves_nothing():
    assert judged("tank-tightness-test", **TANK | {"threshold_gph": 0.1}).outcome == "inconclusive"


@pytest.mark.parametrize(
    "change",
    [{"detectable_leak_gph": 0.2}, {"detection_probability_pct": 94}, {"false_alarm_pct": 6}],
    ids=str,
)
def test_a_method_that_is_not_shown_to_find_the_leak_proves_nothing(change):
    assert judged("tank-tightness-test", **TANK | change).outcome == "inconclusive"


def test_ground_water_over_the_bottom_asks_for_pressure_there():
    under = judged("tank-tightness-test", **TANK, groundwater_above_bottom_in=-14)
    over = judged("tank-tightness-test", **TANK, groundwater_above_bottom_in=20)
    pressed = judged("tank-tightness-test", **TANK, groundwater_above_bottom_in=20, bottom_pressure_psi=1)

    assert (under.outcome, over.outcome, pressed.outcome) == ("pass", "incomplete", "pass")
    assert over.missing == ("bottom_pressure_psi",)


def test_a_gauge_looks_for_a_fifth_of_a_gallon():
    gauge = {"method": "automatic tank gauging", "leak_rate_gph": 0.09}

    assert judged("tank-monitoring-result", **gauge, threshold_gph=0.1).outcome == "pass"
    assert judged("tank-monitoring-result", **gauge, threshold_gph=0.2).outcome == "inconclusive"


def test_an_electronic_test_for_three_gallons_is_judged_by_its_own_leak_and_said_to_be_no_line_test():
    found = judged("electronic-line-test", detectable_leak_gph=3, leak_rate_gph=0.5, threshold_gph=1.5)

    assert found.outcome == "pass"
    assert "only a test for 0.1" in found.notes[0]


def test_an_electronic_test_at_lower_pressure_is_carried_to_one_and_a_half_times():
    """0.1 gal/h at operating pressure is 0.122 at 1.5 times it; 0.08 there is 0.098."""
    numbers = {"leak_rate_gph": 0.01, "threshold_gph": 0.04, "pressure_ratio": 1}

    assert judged("electronic-line-test", detectable_leak_gph=0.1, **numbers).outcome == "inconclusive"
    assert judged("electronic-line-test", detectable_leak_gph=0.08, **numbers).outcome == "pass"


def test_an_eighth_of_an_inch_of_product_in_a_well_fails():
    assert judged("tank-monitoring-result", **WELL).outcome == "pass"
    assert judged("piping-monitoring-result", **WELL | {"free_product_in": 0.125}).outcome == "fail"


def test_a_film_thinner_than_the_method_has_to_find_is_no_pass():
    """40 CFR 280.50(a): released product that is found."""
    assert judged("tank-monitoring-result", **WELL | {"free_product_in": 0.0625}).outcome == "inconclusive"


def test_a_well_with_a_water_table_under_twenty_feet_proves_nothing():
    assert judged("tank-monitoring-result", **WELL | {"depth_to_water_ft": 20}).outcome == "pass"
    assert judged("tank-monitoring-result", **WELL | {"depth_to_water_ft": 20.1}).outcome == "inconclusive"


def test_a_short_run_of_data_is_noted():
    numbers = {"leak_rate_gph": 0.01, "threshold_gph": 0.09, "minimum_detectable_gph": 0.18}

    found = judged(
        "piping-monitoring-result", method="statistical inventory reconciliation", data_days=20, **numbers
    )

    assert found.outcome == "pass"
    assert found.notes == ("20 days of data stand behind it; 30 are usual (common practice, no source).",)


BULK = Setting(on=FEDERAL.on, bulk_piping=True)
SECTION = {"section_gal": 50_000, "semiannual": True, "threshold_gph": 0.7, "pressure_ratio": 1.0}


@pytest.mark.parametrize(
    ("section", "twice", "found", "outcome"),
    [
        (49_999, True, 1.0, "pass"),
        (49_999, True, 1.1, "inconclusive"),
        (50_000, True, 1.5, "pass"),
        (75_000, False, 1.0, "pass"),
        (75_000, False, 1.1, "inconclusive"),
        (100_000, True, 3.0, "pass"),
        (100_000, False, 3.0, "inconclusive"),
    ],
)
def test_bulk_piping_is_held_to_the_row_of_its_section(section, twice, found, outcome):
    """Haw. Admin. Rules 11-280.1-44(4), which mirrors 40 CFR 280.252(d)."""
    numbers = SECTION | {"section_gal": section, "semiannual": twice, "detectable_leak_gph": found}

    assert judged("line-tightness-test", BULK, **numbers, leak_rate_gph=0.1).outcome == outcome


def test_bulk_piping_without_its_volume_names_it():
    found = judged("line-tightness-test", BULK, leak_rate_gph=0.1, threshold_gph=0.4, pressure_ratio=1)

    assert (found.outcome, found.missing) == ("incomplete", ("section_gal", "semiannual"))


def test_an_ordinary_line_gets_no_wider_limit_by_a_volume_that_was_stated():
    """40 CFR 280.44(b): 0.1 gal/h at 1.5 times operating pressure."""
    found = judged("line-tightness-test", **SECTION | {"detectable_leak_gph": 1.0}, leak_rate_gph=0.5)

    assert found.outcome == "fail"

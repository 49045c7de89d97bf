"""Overfill devices (40 CFR 280.20(c), 280.35(a)(2)) and cathodic protection (NACE TM0101-2001), case by case."""

import pytest

from compliance.protocols import Setting
from compliance.protocols.overfill import ALARM, RESTRICTOR, SHUTOFF
from equipment.physics.charts import Chart, Row
from tests.compliance.protocols.worked import FEDERAL, judged

CP = "cathodic-protection-test"


def of_type(kind, **more):
    return Setting(on=FEDERAL.on, overfill_type=kind, **more)


def inspected(setting, **measurements):
    return judged("overfill-inspection", setting, **{"acts_at_level": True} | measurements)


@pytest.mark.parametrize(("percent", "outcome"), [(89, "pass"), (97, "fail"), (93, "incomplete")])
def test_without_the_devices_type_only_a_level_that_suits_all_or_none_is_judged(percent, outcome):
    found = inspected(of_type(None), set_level_pct=percent)

    assert found.outcome == outcome
    assert found.missing == (("overfill_type",) if outcome == "incomplete" else ())


def test_a_shutoff_over_95_percent_passes_when_no_fitting_is_wetted():
    assert inspected(of_type(SHUTOFF), set_level_pct=97, fittings_stay_dry=True).outcome == "pass"
    assert inspected(of_type(SHUTOFF), set_level_pct=97, fittings_stay_dry=False).outcome == "fail"


def test_an_alarm_that_acts_too_late_is_told_up_to_where_it_would_be_in_time():
    """10,152.32 gal less 400 gal/min for one minute; for 30 minutes at 3 gal/min, 90 gal."""
    late = {"capacity_gal": 10_152.32, "acts_volume_gal": 9_900, "fill_rate_gpm": 400}
    slow = {"capacity_gal": 10_000, "acts_volume_gal": 9_950, "fill_rate_gpm": 3}

    alarm = inspected(of_type(ALARM), **late)
    restrictor = inspected(of_type(RESTRICTOR), **slow)

    assert (alarm.outcome, restrictor.outcome) == ("fail", "fail")
    assert "up to 9752 gal" in alarm.notes[0]
    assert "up to 9910 gal" in restrictor.notes[0]
    assert inspected(of_type(ALARM), **late | {"acts_volume_gal": 9_000}).notes == ()


def test_the_minute_is_reckoned_from_volumes_and_fill_rate():
    """10,152 - 9,752 gal at 400 gal/min is one minute."""
    numbers = {"capacity_gal": 10_152.32, "fill_rate_gpm": 400}

    found = [
        inspected(of_type(ALARM), acts_volume_gal=each, **numbers).outcome for each in (9_752.32, 9_752.33)
    ]

    assert found == ["pass", "fail"]


def test_thirty_minutes_of_restricted_flow_must_fit():
    """A county plan: 3 gal/min and 100 gal left, 90 needed."""
    numbers = {"capacity_gal": 10_000, "fill_rate_gpm": 3}

    found = [
        inspected(of_type(RESTRICTOR), acts_volume_gal=each, **numbers).outcome for each in (9_900, 9_911)
    ]

    assert found == ["pass", "fail"]


def test_california_says_what_else_the_restriction_needs():
    california = Setting(on=FEDERAL.on, overfill_type=RESTRICTOR, jurisdictions=("us-federal", "us-ca"))

    found = inspected(california, set_level_pct=89)

    assert "alarm 5 minutes before overfill" in found.notes[0]


def test_california_bounds_the_level_at_which_a_restriction_by_time_starts():
    """23 CCR 2635, by a public summary: 30 minutes before overfill and at 95 percent at most."""
    california = Setting(on=FEDERAL.on, overfill_type=RESTRICTOR, jurisdictions=("us-federal", "us-ca"))

    found = [inspected(california, set_level_pct=each, before_full_min=30).outcome for each in (95, 95.1)]

    assert found == ["pass", "fail"]
    assert inspected(of_type(RESTRICTOR), set_level_pct=95.1, before_full_min=30).outcome == "pass"


def test_a_device_of_unknown_type_lists_everything_that_is_missing():
    found = inspected(of_type(None), set_level_pct=93, acts_at_level=None)

    assert (found.outcome, found.missing) == ("incomplete", ("overfill_type", "acts_at_level"))


def test_the_height_is_looked_up_on_the_tanks_own_chart():
    chart = Chart((Row(0, 0), Row(100, 14_000), Row(104, 14_360), Row(120, 15_023)))

    found = inspected(
        of_type(SHUTOFF, chart=chart), seat_to_bottom_in=171.5, upper_tube_in=65, reference_offset_in=4.5
    )

    assert found.measured == pytest.approx(100 * 14_180 / 15_023)
    assert found.outcome == "pass"


def test_a_height_that_is_not_on_the_chart_leaves_the_level_open():
    chart = Chart((Row(0, 0), Row(100, 14_000)))

    found = inspected(of_type(SHUTOFF, chart=chart), acts_height_in=102)

    assert (found.outcome, found.missing) == ("incomplete", ("acts_volume_gal", "capacity_gal"))


def test_parts_that_do_not_add_up_to_the_stated_height_are_noted():
    found = inspected(
        of_type(SHUTOFF),
        set_level_pct=90,
        seat_to_bottom_in=114.5,
        upper_tube_in=35.5,
        reference_offset_in=2,
        acts_height_in=78,
    )

    assert found.notes == ("The measured parts put the device at 77 in, the record says 78 in; check both.",)


@pytest.mark.parametrize(
    "change", [{"acts_at_level": False}, {"moves_freely": False}, {"undamaged": False}], ids=str
)
def test_a_device_that_does_not_act_or_move_fails_at_any_level(change):
    assert inspected(of_type(SHUTOFF), set_level_pct=90, **change).outcome == "fail"


def test_a_device_that_nobody_saw_act_is_incomplete():
    found = inspected(of_type(SHUTOFF), set_level_pct=90, acts_at_level=None)

    assert (found.outcome, found.missing) == ("incomplete", ("acts_at_level",))


def test_an_alarm_whose_gauge_disagrees_with_the_stick_fails():
    """RP 1200 section 7.3, by a summary; the eighth of an inch is common practice, no source."""
    levels = [
        inspected(of_type(ALARM), set_level_pct=89, gauge_level_in=80, stick_level_in=each)
        for each in (80.125, 80.25)
    ]

    assert [each.outcome for each in levels] == ["pass", "fail"]


def point(structure, native, off, on=None):
    return {"structure": structure, "native_mv": native, "instant_off_mv": off, "on_mv": on}


def test_each_structure_may_meet_its_own_criterion():
    rows = [point("T1", -500, -870), point("T1", -510, -905), point("P1", -420, -560)]

    found = judged(CP, readings=rows)

    assert found.outcome == "pass"
    assert [(each.of, each.criterion.id) for each in found.checks if each.part == "result"] == [
        ("T1", "cp-potential"),
        ("P1", "cp-polarisation"),
    ]


def test_one_weak_point_fails_its_structure():
    found = judged(CP, readings=[point("T1", -500, -870), point("T1", -610, -690)])

    assert found.outcome == "fail"
    assert found.checks[0].of == "T1"


def test_criteria_are_not_mixed_from_point_to_point():
    """One point meets only -850, the other only 100 mV: the structure as a whole meets neither."""
    found = judged(CP, readings=[point("T1", -800, -870), point("T1", -420, -560)])

    assert found.outcome == "fail"


def test_potentials_with_the_current_on_count_only_where_the_record_says_so():
    rows = [{"structure": "T1", "on_mv": -1010}]

    assert judged(CP, readings=rows).outcome == "incomplete"
    assert judged(CP, readings=rows, criterion="-850 mV on").outcome == "pass"


def test_a_point_that_was_not_read_leaves_its_structure_open():
    found = judged(CP, readings=[point("T1", -500, -870), {"structure": "T1", "place": "south end"}])

    assert (found.outcome, found.missing) == ("incomplete", ("readings.instant_off_mv",))


def test_a_potential_below_minus_1800_is_doubted():
    assert judged(CP, readings=[point("T1", -500, -1800)]).outcome == "pass"
    assert judged(CP, readings=[point("T1", -500, -1801)]).outcome == "inconclusive"


def test_an_option_that_fails_leaves_one_that_nobody_stated_open():
    wetted = inspected(of_type(SHUTOFF), fittings_stay_dry=False)
    shifted = judged(CP, polarisation_mv=90)

    assert (wetted.outcome, wetted.missing) == ("incomplete", ("acts_volume_gal", "capacity_gal"))
    assert (shifted.outcome, shifted.missing) == ("incomplete", ("readings",))


def test_another_half_cell_is_noted():
    found = judged(CP, readings=[point("T1", -500, -870)], reference_cell="zinc")

    assert "zinc" in found.notes[0]


def test_a_device_above_the_top_of_the_tank_is_told():
    found = inspected(of_type(SHUTOFF, chart=Chart((Row(0, 0), Row(96, 10_000)))), acts_height_in=101)

    assert found.outcome == "incomplete"
    assert "101 in is not on the tank's chart" in found.notes[0]

"""Manual tank gauging beside its standards (40 CFR 280.43(b); EPA page): four readings, chart, mean of four weeks."""

from decimal import Decimal

import pytest

from compliance.protocols import Setting
from compliance.protocols.manual_gauging import month_mean
from equipment.physics.charts import Chart, Row
from tests.compliance.protocols.worked import FEDERAL, judged

SMALL = {"tank_class": "up to 550 gal", "hours": 36}
VOLUMES = {"start_first_gal": 210, "start_second_gal": 212, "end_first_gal": 201, "end_second_gal": 201}
LEVELS = {"start_first_in": 20, "start_second_in": 20.125, "end_first_in": 19, "end_second_in": 19.125}


def gauged(setting=FEDERAL, **measurements):
    return judged("manual-tank-gauging", setting, **measurements)


def test_the_change_is_the_difference_of_two_means():
    found = gauged(**SMALL, **VOLUMES)

    assert (found.measured, found.outcome) == (10, "pass")


def test_four_volumes_count_before_a_stated_difference():
    assert gauged(**SMALL, **VOLUMES | {"end_second_gal": 200.9}, difference_gal=1).outcome == "fail"


def test_levels_are_turned_into_gallons_by_the_tanks_own_chart():
    chart = Chart((Row(0, 0), Row(40, 480)))

    found = gauged(Setting(on=FEDERAL.on, chart=chart), **SMALL, **LEVELS)

    assert (found.measured, found.outcome) == (12, "fail")


def test_levels_without_a_chart_leave_the_volumes_missing():
    found = gauged(**SMALL, **LEVELS)

    assert found.outcome == "incomplete"
    assert found.missing == ("start_first_gal", "start_second_gal", "end_first_gal", "end_second_gal")


def test_without_a_row_of_the_table_nothing_is_judged():
    found = gauged(**VOLUMES, hours=36)

    assert (found.outcome, found.missing) == ("incomplete", ("tank_class",))


def test_a_bad_month_of_good_weeks_fails():
    """Four weeks of 6 gal: each within 10, their mean over 5."""
    mean = float(month_mean([Decimal(6)] * 4))

    found = gauged(**SMALL, difference_gal=6, month_mean_gal=mean)

    assert found.outcome == "fail"
    assert found.criterion is not None
    assert found.criterion.id == "gauging-monthly"


def test_gains_and_losses_cancel_in_the_months_mean():
    assert month_mean([Decimal(9), Decimal(-9), Decimal(1), Decimal(-1)]) == 0


@pytest.mark.parametrize("weeks", [3, 5])
def test_a_months_mean_is_made_of_four_weeks(weeks):
    with pytest.raises(ValueError, match="four weekly changes"):
        month_mean([Decimal(1)] * weeks)


def weeks(*differences):
    return [{"difference_gal": each} for each in differences]


def test_the_mean_of_the_month_is_worked_out_from_its_four_weeks():
    """Up to 550 gal: 10 gal a week, 5 gal in the month's mean."""
    good = gauged(**SMALL, difference_gal=8, earlier_weeks=weeks(4, 4, 4))
    bad = gauged(**SMALL, difference_gal=8, earlier_weeks=weeks(4, 4, 4.1))

    assert (good.outcome, bad.outcome) == ("pass", "fail")
    assert good.checks[1].measured == 5


def test_of_a_stated_mean_and_that_of_the_weeks_the_larger_counts():
    found = gauged(**SMALL, difference_gal=8, month_mean_gal=2, earlier_weeks=weeks(7, 7, 7))

    assert found.outcome == "fail"
    assert "not that of the four weeks, 7.25 gal" in found.notes[0]


def test_two_earlier_weeks_make_no_month():
    found = gauged(**SMALL, difference_gal=8, earlier_weeks=weeks(9, 9))

    assert found.outcome == "pass"
    assert "2 earlier ones are stated, and three are needed" in found.notes[0]


def test_a_level_above_the_diameter_is_told_and_leaves_its_volume_missing():
    chart = Chart((Row(0, 0), Row(40, 480)))

    found = gauged(Setting(on=FEDERAL.on, chart=chart), **SMALL, **LEVELS | {"end_second_in": 41})

    assert found.outcome == "incomplete"
    assert "41 in is not on the tank's chart, which holds 0 to 40 in" in found.notes[0]

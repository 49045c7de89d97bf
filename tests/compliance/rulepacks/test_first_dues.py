"""When each recurring federal duty is due for the very first time, from the first day of use of what it is about.

Stated: 13 October 2018 for what was there when the rule of 2015 took effect (40 CFR 280.35(b), 280.36(a),
280.40(a)(3)), six months for cathodic protection (280.31(b)(1)), ten years for a lining (280.21(b)(1)(ii)). Not stated,
and read as one interval after first use: walkthroughs, monitoring, line tests. Read as the day of first use: tests of
equipment, as Illinois writes (41 Ill. Adm. Code 175.610(a)(4)(A)).
"""

from datetime import date

import pytest

from tests.compliance.rulepacks.federal import closed, component, finding, in_use, site, standing
from tests.compliance.rulepacks.recurring import duty_of

THIRTY_DAYS_BUT_NOT_BEFORE_2018 = [
    ("2010-01-01", "2018-10-13"),
    ("2018-09-13", "2018-10-13"),
    ("2018-09-14", "2018-10-14"),
    ("2020-01-30", "2020-02-29"),
]
A_YEAR_BUT_NOT_BEFORE_2018 = [
    ("2010-01-01", "2018-10-13"),
    ("2017-10-13", "2018-10-13"),
    ("2017-10-14", "2018-10-14"),
    ("2020-02-29", "2021-02-28"),
]
OCTOBER_2018_OR_FIRST_USE = [
    ("2015-10-13", "2018-10-13"),
    ("2015-10-14", "2015-10-14"),
    ("2020-02-29", "2020-02-29"),
]
FIRST_USE_BUT_NOT_BEFORE_2018 = [
    ("2010-01-01", "2018-10-13"),
    ("2018-10-14", "2018-10-14"),
    ("2020-02-29", "2020-02-29"),
]
THIRTY_DAYS = [("2015-06-01", "2015-07-01"), ("2016-01-30", "2016-02-29")]
THIRTY_DAYS_NEWER = [("2016-04-12", "2016-05-12"), ("2020-01-30", "2020-02-29")]

FIRSTS = {
    "walkthrough-30-day-spill": THIRTY_DAYS_BUT_NOT_BEFORE_2018,
    "walkthrough-30-day-rd": THIRTY_DAYS_BUT_NOT_BEFORE_2018,
    "spill-bucket-dual-wall-monitoring": THIRTY_DAYS_BUT_NOT_BEFORE_2018,
    "walkthrough-annual-sump": A_YEAR_BUT_NOT_BEFORE_2018,
    "walkthrough-annual-handheld": A_YEAR_BUT_NOT_BEFORE_2018,
    "sump-dual-wall-monitoring": A_YEAR_BUT_NOT_BEFORE_2018,
    "spill-bucket-tightness-3y": OCTOBER_2018_OR_FIRST_USE,
    "sump-tightness-3y": OCTOBER_2018_OR_FIRST_USE,
    "overfill-inspection-3y": OCTOBER_2018_OR_FIRST_USE,
    "annual-controller-test": FIRST_USE_BUT_NOT_BEFORE_2018,
    "annual-probe-sensor-test": FIRST_USE_BUT_NOT_BEFORE_2018,
    "annual-vacuum-pressure-test": FIRST_USE_BUT_NOT_BEFORE_2018,
    "annual-handheld-electronic-test": FIRST_USE_BUT_NOT_BEFORE_2018,
    "annual-alld-test": [("2010-03-01", "2010-03-01"), ("2020-02-29", "2020-02-29")],
    "tank-monitor-30d-any": THIRTY_DAYS,
    "hazsub-interstitial-30d": THIRTY_DAYS,
    "pressurised-line-monthly-monitoring": THIRTY_DAYS,
    "suction-line-monthly-monitoring": THIRTY_DAYS,
    "tank-monitor-30d-interstitial": THIRTY_DAYS_NEWER,
    "new-piping-interstitial-30d": THIRTY_DAYS_NEWER,
    "manual-gauging-weekly": [("2015-06-01", "2015-06-08")],
    "tank-tightness-5y": [("2016-01-10", "2021-01-10"), ("2012-02-29", "2017-02-28")],
    "emergency-generator-rd": OCTOBER_2018_OR_FIRST_USE,
    "pressurised-line-tightness-annual": [("2015-06-01", "2016-06-01"), ("2012-02-29", "2013-02-28")],
    "suction-line-tightness-3y": [("2015-06-01", "2018-06-01"), ("2012-02-29", "2015-02-28")],
    "cp-test-3-years": [("2015-03-10", "2015-09-10"), ("2015-08-31", "2016-02-29")],
    "cp-impressed-60-days": [("2015-06-01", "2015-07-31")],
}
EACH = [(rule, started, due) for rule, rows in FIRSTS.items() for started, due in rows]


@pytest.mark.parametrize(("rule", "started", "due"), EACH)
def test_the_first_one_is_due_on_its_stated_day(rule, started, due):
    duty = duty_of(rule)
    document = duty.document(fields={"installed_on": started, "brought_into_use_on": started})

    found = finding(document, rule, duty.subject, due)

    assert (found.standing, found.due) == ("due soon", date.fromisoformat(due))


@pytest.mark.parametrize(("rule", "started", "due"), EACH)
def test_never_done_there_is_no_record_from_the_next_day(rule, started, due):
    duty = duty_of(rule)
    document = duty.document(fields={"installed_on": started, "brought_into_use_on": started})
    next_day = date.fromordinal(date.fromisoformat(due).toordinal() + 1).isoformat()

    assert standing(document, rule, duty.subject, next_day) == "no record"


@pytest.mark.parametrize("rule", ["spill-bucket-tightness-3y", "sump-tightness-3y", "overfill-inspection-3y"])
def test_what_lapsed_while_closed_and_empty_is_due_on_the_day_of_return(rule):
    """40 CFR 280.70(a) states no grace."""
    changes = [closed("2023-11-01", residue_in=0.5), in_use("2025-04-15")]
    document = duty_of(rule).document("2021-05-20", changes=changes)

    assert finding(document, rule, "X1", "2025-04-15").due == date(2025, 4, 15)
    assert standing(document, rule, "X1", "2025-04-16") == "overdue"


def test_a_sump_of_which_both_walls_are_watched_owes_no_test():
    """40 CFR 280.35(a)(1)(i)."""
    both = {"wall": "double", "both_walls_monitored": True}

    assert standing(
        duty_of("sump-tightness-3y").document(fields=both), "sump-tightness-3y", "X1", "2025-07-01"
    ) == ("not required")


def test_a_sump_whose_walls_are_no_longer_watched_has_thirty_days_too():
    """40 CFR 280.35(a)(1)(i): day 30 belongs to the one-off test, from day 31 the three years are on."""
    sump = component(
        "containment_sump",
        brought_into_use_on="2016-01-01",
        used_for_interstitial_monitoring=True,
        wall="double",
        both_walls_monitored=True,
    )
    document = site(sump, changes=[{"of": "X1", "on": "2025-04-10", "both_walls_monitored": False}])

    assert finding(document, "dual-wall-monitoring-stopped-test", "X1", "2025-05-10").due == date(2025, 5, 10)
    assert standing(document, "sump-tightness-3y", "X1", "2025-05-10") == "not required"
    assert finding(document, "sump-tightness-3y", "X1", "2025-05-11").due == date(2025, 5, 11)


def test_monitoring_of_a_replaced_run_begins_thirty_days_after_the_replacement():
    """40 CFR 280.41(b)(2); the interval after first use is our reading."""
    run = component(
        "piping_run", piping_style="pressure", installed_on="2005-01-01", replaced_on="2024-01-30"
    )

    assert finding(site(run), "new-piping-interstitial-30d", "X1", "2024-02-10").due == date(2024, 2, 29)


OLDER_PIPING = [
    ("pressurised-line-tightness-annual", "2016-04-11", "no record"),
    ("pressurised-line-tightness-annual", "2016-04-12", "not required"),
    ("pressurised-line-monthly-monitoring", "2016-04-11", "no record"),
    ("pressurised-line-monthly-monitoring", "2016-04-12", "not required"),
    ("suction-line-tightness-3y", "2016-04-11", "no record"),
    ("suction-line-tightness-3y", "2016-04-12", "not required"),
    ("suction-line-monthly-monitoring", "2016-04-11", "no record"),
    ("suction-line-monthly-monitoring", "2016-04-12", "not required"),
    ("new-piping-interstitial-30d", "2016-04-11", "not required"),
    ("new-piping-interstitial-30d", "2016-04-12", "no record"),
]


@pytest.mark.parametrize(("rule", "day", "expected"), OLDER_PIPING)
def test_piping_installed_on_11_april_2016_is_under_the_older_regime(rule, day, expected):
    """40 CFR 280.41(b)(1), (2): on or before, and after, 11 April 2016."""
    document = duty_of(rule).document(fields={"installed_on": day, "brought_into_use_on": day})

    assert standing(document, rule, "X1", "2025-07-01") == expected


@pytest.mark.parametrize(("rule", "day", "expected"), OLDER_PIPING)
def test_piping_replaced_on_11_april_2016_is_under_the_older_regime(rule, day, expected):
    """40 CFR 280.20 intro, 280.41(b): installed or replaced after 11 April 2016."""
    fields = {"installed_on": "2005-01-01", "brought_into_use_on": "2005-01-01", "replaced_on": day}

    assert standing(duty_of(rule).document(fields=fields), rule, "X1", "2025-07-01") == expected

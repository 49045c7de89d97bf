"""The monthly function check of interstitial and sump sensors: good practice that a facility takes by choice.

Common practice, no source: the interval, the calendar month and the first month are ours. Days are counted by hand.
"""

from datetime import date
from functools import cache

import pytest

from compliance.rulepacks import recordable
from compliance.rules.document import read_document
from compliance.rules.judging import judge
from compliance.rules.loading import load_packs
from tests.compliance.rulepacks.federal import PACKS, closed, component, moment, record, site

RULE = "sensor-function-check-monthly"
TAKEN = {"jurisdictions": ["us-federal", "good-practice"]}


@cache
def both():
    """The law and the good practice together, as a facility takes them."""
    return load_packs([PACKS / "us_federal", PACKS / "good_practice"], activities=recordable())


def found(on: str, *done: dict, facility: dict = TAKEN, parent: str = "containment_sump", **stated: object):
    """What the rule says about sensor X1; None when it does not apply at all."""
    changes = stated.pop("changes", [])
    fields = {"used_for_release_detection": True, "brought_into_use_on": "2020-05-04"} | stated
    place = component(parent, "P1")
    document = site(
        place,
        component("sensor", parent="P1", **fields),
        facility=facility,
        records=list(done),
        changes=changes,
    )
    judged = judge(read_document(document), both(), at=moment(on), include_not_required=True).findings
    return next((one for one in judged if (one.rule, one.subject) == (RULE, "X1")), None)


def checked(on: str, outcome: str = "pass") -> dict:
    return record("sensor-function-check", on, outcome=outcome, responded=outcome == "pass")


@pytest.mark.parametrize(
    ("on", "standing"),
    [("2026-03-30", "due soon"), ("2026-03-31", "due soon"), ("2026-04-01", "overdue")],
)
def test_it_is_due_by_the_end_of_the_next_calendar_month(on, standing):
    finding = found(on, checked("2026-02-03"))

    assert (finding.standing, finding.due) == (standing, date(2026, 3, 31))
    assert (finding.cite, finding.verified) == ("common practice, no source", "C")


def test_a_check_on_the_last_day_of_one_month_and_the_first_of_the_next_answer_a_month_each():
    finding = found("2026-03-15", checked("2026-01-31"), checked("2026-02-01"))

    assert (finding.standing, finding.due) == ("met", date(2026, 3, 31))


def test_done_late_it_counts_for_the_month_in_which_it_was_done():
    finding = found("2026-04-02", checked("2026-01-30"), checked("2026-02-03"), checked("2026-04-02"))

    assert (finding.standing, finding.due) == ("met", date(2026, 5, 31))
    assert [(one.due, one.done) for one in finding.late_intervals] == [(date(2026, 3, 31), date(2026, 4, 2))]


def test_a_sensor_that_did_not_respond_has_failed_until_it_does():
    failed = found("2026-03-05", checked("2026-02-03"), checked("2026-03-05", "fail"))
    mended = found("2026-03-06", checked("2026-03-05", "fail"), checked("2026-03-06"))

    assert failed.standing == "failed"
    assert mended.standing == "met"


@pytest.mark.parametrize(("on", "standing"), [("2026-01-31", "due soon"), ("2026-02-01", "no record")])
def test_never_done_it_is_owed_from_the_first_month_of_the_wording(on, standing):
    finding = found(on)

    assert (finding.standing, finding.due) == (standing, date(2026, 1, 31))


def test_a_new_sensor_has_until_the_end_of_the_month_after_first_use():
    assert found("2026-05-01", brought_into_use_on="2026-04-30").due == date(2026, 5, 31)


def test_whoever_takes_the_pack_later_has_until_the_end_of_the_month_after():
    taken = {"of": "F1", "on": "2026-06-15", **TAKEN}
    stated = {"facility": {"jurisdictions": ["us-federal"]}, "changes": [taken]}

    assert found("2026-06-14", **stated) is None
    assert found("2026-06-15", **stated).due == date(2026, 7, 31)


def test_a_facility_that_did_not_take_the_pack_owes_nothing():
    assert found("2026-03-05", facility={}) is None


def test_nothing_is_owed_for_a_sensor_that_no_release_detection_rests_on():
    assert found("2026-03-05", used_for_release_detection=False).standing == "not required"


def test_whether_release_detection_rests_on_it_has_to_be_known():
    finding = found("2026-03-05", used_for_release_detection=None)

    assert finding.standing == "cannot decide"
    assert "used_for_release_detection" in {blank.field for blank in finding.missing}


@pytest.mark.parametrize(
    ("kind", "sensor_type", "standing"),
    [
        ("tank", "probe", "not required"),
        ("tank", "float", "no record"),
        ("tank", None, "no record"),
        ("containment_sump", None, "no record"),
        ("piping_run", None, "no record"),
    ],
)
def test_a_level_probe_in_the_product_is_read_all_day_and_needs_none(kind, sensor_type, standing):
    assert found("2026-03-05", parent=kind, sensor_type=sensor_type).standing == standing


def test_it_sleeps_while_the_system_is_closed_and_measured_empty():
    assert found("2026-03-05", changes=[closed("2026-02-01", residue_in=0.5)]).standing == "suspended"


def test_it_takes_nothing_from_the_law():
    """40 CFR 280.40(a)(3)(ii): the yearly test stays due beside the monthly check."""
    sensor = component("sensor", used_for_release_detection=True, brought_into_use_on="2020-05-04")
    document = read_document(site(sensor, facility=TAKEN, records=[checked("2026-02-03")]))
    yearly = [
        one
        for one in judge(document, both(), at=date(2026, 3, 5)).findings
        if one.rule == "annual-probe-sensor-test"
    ]

    assert [one.standing for one in yearly] == ["no record"]

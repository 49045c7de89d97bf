"""A sensor that was driven and did not answer: 40 CFR 280.40(a)(3), release detection is operated and maintained.

How soon it has to work again is not stated; at once is our reading.
"""

import pytest

from tests.compliance.rulepacks.federal import closed, component, finding, record, site, standing

RULE = "mute-sensor-put-right"


def driven(on: str, outcome: str = "fail", **rest: object) -> dict:
    return record("sensor-function-check", on, outcome=outcome, responded=outcome == "pass", **rest)


def sensor(**fields: object) -> dict:
    stated = {"used_for_release_detection": True, "brought_into_use_on": "2024-01-01"} | fields
    return component("sensor", **stated)


MUTE = driven("2025-06-10T08:00", id="M1")


@pytest.mark.parametrize(("type", "watches"), [("probe", "tank"), ("float", "containment_sump")])
def test_a_sensor_that_did_not_answer_stays_open_whatever_it_watches(type, watches):
    document = site(component(watches, "P1"), sensor(sensor_type=type, parent="P1"), records=[MUTE])

    assert standing(document, RULE, "M1", "2025-06-11") == "failed"
    assert standing(document, RULE, "M1", "2025-12-31") == "failed"


def test_its_yearly_test_that_is_not_due_yet_hides_it_no_longer():
    """40 CFR 280.40(a)(3)(ii)."""
    tested = record("probe-sensor-test", "2025-06-01", id="T1")
    document = site(sensor(), records=[tested, MUTE])

    assert standing(document, "annual-probe-sensor-test", "X1", "2025-06-11") == "met"
    assert standing(document, RULE, "M1", "2025-06-11") == "failed"


def test_a_repair_alone_does_not_show_that_it_works():
    repaired = record("repair", "2025-06-10T10:00", id="R1", regarding="M1")

    assert standing(site(sensor(), records=[MUTE, repaired]), RULE, "M1", "2025-06-11") == "failed"


@pytest.mark.parametrize("activity", ["sensor-function-check", "probe-sensor-test"])
def test_a_later_check_or_test_that_passes_ends_it(activity):
    works = record(activity, "2025-06-12T09:00", id="W1", responded=True)
    document = site(sensor(), records=[MUTE, works])

    assert standing(document, RULE, "M1", "2025-06-12T08:59") == "failed"
    assert standing(document, RULE, "M1", "2025-06-12T09:00") == "met"


def test_an_earlier_check_that_passed_does_not_speak_for_it():
    before = driven("2025-06-10T07:00", "pass", id="B1")

    assert standing(site(sensor(), records=[before, MUTE]), RULE, "M1", "2025-06-11") == "failed"


def test_each_sensor_answers_for_itself():
    other = sensor(id="X2")
    works = record("sensor-function-check", "2025-06-12", subject="X2", id="W1")

    assert standing(site(sensor(), other, records=[MUTE, works]), RULE, "M1", "2025-06-13") == "failed"


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"used_for_release_detection": False}, "nobody relies on it for release detection"),
        ({"removed_on": "2025-06-11"}, "it was taken out"),
    ],
)
def test_of_a_sensor_that_is_no_release_detection_nothing_is_asked(fields, why):
    assert standing(site(sensor(**fields), records=[MUTE]), RULE, "M1", "2025-06-12") == "not required", why


def test_at_a_tank_that_is_closed_and_empty_it_sleeps():
    """40 CFR 280.70(a)."""
    document = site(sensor(), records=[MUTE], changes=[closed("2025-06-11", residue_in=0.5)])

    assert standing(document, RULE, "M1", "2025-06-12") == "suspended"


def test_a_sensor_that_answered_owes_nothing():
    document = site(sensor(), records=[driven("2025-06-10T08:00", "pass", id="M1")])

    assert finding(document, RULE, "M1", "2025-06-11").standing == "not required"

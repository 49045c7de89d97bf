"""The walkthrough's items against 40 CFR 280.36(a)(1)."""

import pytest

from equipment.activities.catalogue import activity
from equipment.activities.checklist import checklist_for
from equipment.activities.definitions import SUBJECTS

EVERY = checklist_for(SUBJECTS)


def items(area: str) -> set[str]:
    return {item.slug for item in EVERY if item.area == area}


def test_the_spill_area_holds_the_five_checks_of_the_regulation():
    # 40 CFR 280.36(a)(1)(i)(A): damage; liquid or debris; obstructions in the fill pipe; fill cap;
    # and, for double-walled equipment with interstitial monitoring, a leak in the interstitial area.
    assert items("spill") == {
        "spill-bucket-damage",
        "spill-bucket-liquid",
        "fill-pipe-clear",
        "fill-cap-secure",
        "spill-bucket-interstice",
    }


def test_the_release_detection_area_holds_the_two_checks_of_the_regulation():
    # 40 CFR 280.36(a)(1)(i)(B): operating with no alarms or unusual conditions; records reviewed and current.
    assert items("release detection") == {"release-detection-no-alarm", "release-detection-records"}


def test_sumps_and_handheld_equipment_are_yearly_and_the_rest_is_every_30_days():
    # 40 CFR 280.36(a)(1)(i) every 30 days, (ii) annually.
    frequencies = {(item.area, item.frequency) for item in EVERY}

    assert frequencies == {
        ("spill", "30 days"),
        ("release detection", "30 days"),
        ("sumps", "annual"),
        ("handheld", "annual"),
        ("operator's own", "operator's own"),
    }


def test_the_areas_of_federal_items_are_those_a_walkthrough_record_may_name():
    areas = {item.area for item in EVERY} - {"operator's own"}

    assert areas == set(activity("walkthrough").by_name["areas"].choices)


def test_a_federal_item_cites_the_federal_paragraph_and_no_other_item_poses_as_one():
    for item in EVERY:
        assert item.source.startswith("40 CFR 280.36") == (item.area != "operator's own")


def test_the_operators_own_items_cover_the_things_of_a_fuel_dock():
    # common practice, no source: the things that a marina's own round looks at beside the federal list.
    assert {
        "monitoring-well-cap",
        "vent-cap",
        "dock-hose",
        "shore-valve",
        "drip-pans",
        "fire-extinguishers",
        "fueling-signs",
        "outside-overfill-alarm",
        "area-rated-equipment",
    } <= items("operator's own")


def test_only_items_of_the_kinds_that_a_site_has_are_asked():
    assert {item.kind for item in checklist_for(["hose", "shore_valve"])} == {"hose", "shore_valve"}
    assert checklist_for([]) == []


def test_a_kind_that_does_not_exist_is_an_error():
    with pytest.raises(ValueError, match="spill_bukket"):
        checklist_for(["spill_bukket"])


def test_every_item_asks_a_question_and_says_what_is_acceptable():
    assert all(item.question.endswith("?") and item.acceptable and item.caution for item in EVERY)


def test_a_vent_outlet_is_twelve_feet_up():
    # 29 CFR 1910.106(b): vents of underground tanks end at least 12 ft above grade.
    (vent,) = checklist_for(["vent"])

    assert "12 ft" in vent.acceptable

"""The catalogue against the list of activities, fields and choice words that rules read.

`published.json` holds, for each activity, the paragraph that it comes from and the fields of the site document
format. Figures below come from the source named beside each.
"""

import json
import re
from pathlib import Path

import pytest

from equipment.activities.catalogue import UnknownActivity, activity, catalogue, slugs, standing_caution
from equipment.activities.checklist import checklist_for
from equipment.activities.definitions import COMPONENT_KINDS, SUBJECTS, Measurement
from equipment.activities.measurements import check_measurements
from equipment.activities.units import UNITLESS, stem, unit_of

PUBLISHED = json.loads((Path(__file__).parent / "published.json").read_text())
# Worked out and kept by this service itself; other programs need not know them.
OWN = {"pre-delivery-check", "sensor-function-check"}
PLAIN_TYPES = {"number": "number", "integer": "integer", "boolean": "boolean", "text": "string"}


def as_published(measurement: Measurement) -> object:
    match measurement.type:
        case "choice":
            return list(measurement.choices)
        case "list-of-choice":
            return {"list of": list(measurement.choices)}
        case "list-of-text":
            return "list of string"
        case other:
            return PLAIN_TYPES[other]


def numbers() -> list[tuple[str, Measurement]]:
    every = [(slug, each) for slug, found in catalogue().items() for each in found.measurements]
    every += [(slug, field) for slug, each in every for field in each.fields]
    return [(slug, each) for slug, each in every if each.type in ("number", "integer")]


def paragraphs(cite: str) -> set[str]:
    """The sections that a citation names, e.g. 280.35, 2637.1, 93.605."""
    return set(re.findall(r"\d+\.\d+|\d{4,}", cite))


def test_every_published_activity_is_in_the_catalogue_and_no_other_but_our_own():
    assert slugs() - OWN == set(PUBLISHED)


@pytest.mark.parametrize("slug", PUBLISHED)
def test_published_fields_keep_their_names_types_and_choice_words(slug):
    expected = PUBLISHED[slug]["fields"]

    held = {name: as_published(each) for name, each in activity(slug).by_name.items() if name in expected}

    assert held == expected


@pytest.mark.parametrize("slug", PUBLISHED)
def test_an_activity_cites_a_section_that_its_source_names(slug):
    source = PUBLISHED[slug]["source"]

    assert paragraphs(activity(slug).cite) & paragraphs(source) or source.startswith("Tennessee")


@pytest.mark.parametrize(("slug", "measurement"), numbers())
def test_every_number_says_its_unit_in_its_name_or_is_a_count_or_ratio(slug, measurement):
    assert measurement.unit == (unit_of(measurement.name) or measurement.unit)
    assert unit_of(measurement.name) or measurement.unit in UNITLESS


def test_every_activity_has_a_caution_with_its_source():
    without = [a.slug for a in catalogue().values() if not a.caution or not all(c.source for c in a.cautions)]

    assert without == []
    assert "licensed" in standing_caution().text


@pytest.mark.parametrize("slug", PUBLISHED)
def test_a_pass_has_a_meaning_exactly_where_the_format_uses_the_outcome(slug):
    assert activity(slug).outcome_used == PUBLISHED[slug]["outcome_used"]


def test_a_repair_can_be_of_any_component_but_a_sump_test_only_of_a_sump():
    # 40 CFR 280.33 speaks of repairs to UST systems; 280.35(a) of containment sumps.
    assert activity("repair").subjects == COMPONENT_KINDS
    assert activity("sump-test").subjects == ("containment_sump",)


def test_a_line_leak_detector_test_keeps_the_readings_of_the_recognised_practice():
    # PEI RP1200 section 9 and appendix C-9, as summarised in a public state record.
    readings = {
        "operating_psi",
        "holding_psi",
        "resiliency_ml",
        "step_through_s",
        "metering_psi",
        "opening_s",
    }

    assert readings <= activity("line-leak-detector-test").by_name.keys()


def test_the_leak_of_the_detector_example_is_three_gallons_an_hour():
    # 40 CFR 280.44(a): 3 gal/h at 10 psi; a US gallon is 231 cubic inches of 16.387064 mL (NIST Handbook 44, C).
    shown = activity("line-leak-detector-test").example

    rate_gph = shown["leak_ml"] / shown["leak_collected_s"] * 3600 / (231 * 16.387064)

    assert rate_gph == pytest.approx(3, abs=0.01)
    assert shown["psi"] == 10


def test_the_overfill_example_is_the_worksheet_of_a_county_file():
    # A filled-in shutoff worksheet in a county's public inspection file: 171.5 - 65 - 4.5 = 102 in,
    # 14,180 of 15,023 gal; 40 CFR 280.20(c)(1)(ii) allows 95 percent.
    shown = activity("overfill-inspection").example

    height_in = shown["seat_to_bottom_in"] - shown["upper_tube_in"] - shown["reference_offset_in"]

    assert height_in == shown["acts_height_in"] == 102
    assert shown["acts_volume_gal"] / shown["capacity_gal"] <= 0.95


def test_a_full_vacuum_is_the_most_that_can_be_read():
    # One standard atmosphere is 29.92 inches of mercury and 406.8 of water (handbook values of 14.696 psi).
    water = activity("spill-bucket-test").by_name["vacuum_start_in_wc"]
    mercury = activity("secondary-containment-test").by_name["vacuum_start_in_hg"]

    assert 406.8 <= water.max < 408
    assert 29.92 <= mercury.max <= 30


def test_manual_gauging_offers_the_four_rows_of_the_table():
    # 40 CFR 280.43(b) as in EPA's manual tank gauging table: up to 550; 551-1,000 (64 in); 1,000 (48 in);
    # 1,001-2,000 with tightness tests.
    rows = activity("manual-tank-gauging").by_name["tank_class"].choices

    assert [re.sub(r"\D", "", row) for row in rows] == ["550", "5511000" + "64", "1000" + "48", "10012000"]


@pytest.mark.parametrize("slug", PUBLISHED)
def test_every_example_passes_its_own_check(slug):
    found = activity(slug)

    assert found.example
    assert check_measurements(found, found.example) == []


def test_the_walkthrough_example_names_items_of_the_checklist():
    known = {item.slug for item in checklist_for(SUBJECTS)}

    assert {row["item"] for row in activity("walkthrough").example["items"]} <= known


def test_an_unknown_slug_is_answered_with_the_known_ones():
    with pytest.raises(UnknownActivity, match="spill-bucket-test"):
        activity("spill-bucket-tets")


def test_a_unit_of_two_words_is_read_whole():
    assert unit_of("vacuum_end_in_wc") == "inches of water column"
    assert unit_of("level_change_in") == "inches"
    assert unit_of("points") is None
    assert stem("vacuum_end_in_wc") == "vacuum_end"
    assert stem("psi") == ""

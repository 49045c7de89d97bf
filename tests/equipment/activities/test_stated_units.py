"""Measurements in units of their own: converted as printed tables say, kept as stated, refused with what would do."""

import jsonschema_rs
import pint
import pytest

from equipment.activities.catalogue import activity, catalogue
from equipment.activities.measurements import check_measurements
from equipment.activities.schemas import json_schema, stated_units
from equipment.activities.stated_units import accepted_units, reckon, takes_unit

LIBRARY = pint.UnitRegistry()


def given(value, unit) -> dict:
    return {"value": value, "unit": unit}


def found(slug: str, **values) -> list[tuple[str, str]]:
    return [(fault.pointer, fault.code) for fault in check_measurements(activity(slug), values)]


@pytest.mark.parametrize(
    ("slug", "name", "stated", "unit", "library"),
    [
        ("line-leak-detector-test", "leak_rate_gph", 189.27, "mL/min", ("mL/min", "gallon/hour")),
        ("line-leak-detector-test", "leak_rate_gph", 11.356, "L/h", ("L/hour", "gallon/hour")),
        ("line-leak-detector-test", "psi", 68.95, "kPa", ("kPa", "psi")),
        ("spill-bucket-test", "level_start_in", 279.4, "mm", ("mm", "inch")),
        ("tank-tightness-test", "start_degf", 12.5, "°C", ("degC", "degF")),
        ("line-leak-detector-test", "minutes_to_detect", 240, "s", ("s", "minute")),
        ("cathodic-protection-test", "lowest_mv", -0.87, "V", ("V", "mV")),
        ("inventory-month", "throughput_gal", 1000, "L", ("L", "gallon")),
    ],
)
def test_a_stated_value_is_kept_in_the_units_of_the_name_and_as_it_was_stated(
    slug, name, stated, unit, library
):
    """Against pint's own definitions."""
    source, wanted = library
    expected = LIBRARY.Quantity(stated, source).to(wanted).magnitude

    kept = reckon(activity(slug), {name: given(stated, unit)})

    assert found(slug, **{name: given(stated, unit)}) == []
    assert kept.values[name] == pytest.approx(expected, rel=1e-9)
    assert kept.stated == {f"/{name}": given(stated, unit)}


def test_an_eighth_of_an_inch_in_millimetres_is_an_eighth_of_an_inch():
    """1 in is 25.4 mm exactly, so 3.175 mm are 1/8 in, and so is what lies between 100 and 96.825 mm."""
    kept = reckon(
        activity("spill-bucket-test"),
        {
            "level_change_in": given(3.175, "mm"),
            "level_start_in": given(100, "mm"),
            "level_end_in": given(96.825, "mm"),
        },
    ).values

    assert kept["level_change_in"] == 0.125
    assert round(kept["level_start_in"] - kept["level_end_in"], 12) == 0.125


def test_rows_are_converted_too():
    rows = [{"minutes": 0, "psi": given(310, "kPa")}, {"minutes": given(1, "h"), "psi": 45}]

    kept = reckon(activity("line-tightness-test"), {"readings": rows})

    assert kept.values["readings"][0]["psi"] == pytest.approx(44.96, abs=0.01)
    assert kept.values["readings"][1] == {"minutes": 60.0, "psi": 45}
    assert set(kept.stated) == {"/readings/0/psi", "/readings/1/minutes"}


@pytest.mark.parametrize(
    ("slug", "stated", "kept"),
    [
        # 3.386389 kPa is an inch of mercury at 0 °C, 6.894757 kPa a pound a square inch (NIST SP 811, appendix B.8).
        ("secondary-containment-test", {"allowed_loss_in_hg": given(3.386389, "kPa")}, 1),
        ("secondary-containment-test", {"allowed_loss_psi": given(6.894757, "kPa")}, 1),
        ("secondary-containment-test", {"allowed_change_in": given(25.4, "mm")}, 1),
        ("line-tightness-test", {"section_gal": given(3.785411784, "l")}, 1),
        ("pre-delivery-check", {"api_read_degf": given(20, "degc")}, 68),
    ],
)
def test_what_a_procedure_allows_may_be_stated_in_its_own_units(slug, stated, kept):
    [value] = reckon(activity(slug), stated).values.values()

    assert value == pytest.approx(kept, rel=1e-6)


def test_what_comes_without_a_unit_is_left_alone():
    values = {"method": "liquid", "level_start_in": 11, "level_end_in": None, "x_mine": given(1, "mm")}

    kept = reckon(activity("spill-bucket-test"), values)

    assert (kept.values, kept.stated) == (values, {})


@pytest.mark.parametrize(
    ("value", "faults"),
    [
        (given(3, "psi"), [("/leak_rate_gph/unit", "unit")]),
        (given(3, "furlong"), [("/leak_rate_gph/unit", "unit")]),
        (given(3, "Ml/min"), [("/leak_rate_gph/unit", "unit")]),
        (given(3, None), [("/leak_rate_gph/unit", "unit")]),
        (given("3", "L/h"), [("/leak_rate_gph/value", "type")]),
        (given(True, "L/h"), [("/leak_rate_gph/value", "type")]),
        (given(float("nan"), "L/h"), [("/leak_rate_gph/value", "not-finite")]),
        (given(1e300, "L/h"), [("/leak_rate_gph/value", "too-large")]),
        (given(-1, "L/h"), [("/leak_rate_gph/value", "below-minimum")]),
        ({"value": 3}, [("/leak_rate_gph/unit", "missing")]),
        ({"unit": "L/h"}, [("/leak_rate_gph/value", "missing")]),
        ({}, [("/leak_rate_gph/value", "missing"), ("/leak_rate_gph/unit", "missing")]),
        (given(3, "L/h") | {"at": "10 psi"}, [("/leak_rate_gph/at", "unknown")]),
    ],
)
def test_what_cannot_be_converted_is_refused_where_it_stands(value, faults):
    assert found("line-leak-detector-test", leak_rate_gph=value) == faults


def test_the_refusal_of_a_unit_names_those_that_would_do():
    [fault] = check_measurements(activity("tank-tightness-test"), {"start_degf": given(20, "psi")})

    assert fault.detail == "start_degf can be stated in degf, °F, degc, °C"


@pytest.mark.parametrize("value", [900, given(900, "°F"), given(482.2, "degc"), given(-63, "°C")])
def test_a_temperature_that_no_fuel_has_is_refused(value):
    """common practice, no source"""
    [fault] = check_measurements(activity("tank-tightness-test"), {"start_degf": value})

    assert fault.code in ("above-maximum", "below-minimum")
    assert "no motor fuel" in fault.detail


def test_bounds_hold_for_the_converted_value_and_the_stated_one_is_named():
    [fault] = check_measurements(
        activity("tank-tightness-test"), {"fill_pct": 50, "end_degf": given(482.2, "°C")}
    )

    assert fault.pointer == "/end_degf/value"
    assert fault.detail.startswith("482.2 °C is 899.96")


def test_a_count_and_a_ratio_have_no_units():
    assert found("line-tightness-test", pressure_ratio=given(1.5, "ratio")) == [("/pressure_ratio", "type")]
    assert found("inventory-month", days=given(30, "d")) == [("/days", "type")]


@pytest.mark.parametrize("slug", sorted(catalogue()))
def test_every_accepted_spelling_passes_the_published_schema_and_the_check(slug):
    validator = jsonschema_rs.validator_for(json_schema(activity(slug)))

    for known in activity(slug).measurements:
        for unit in accepted_units(known.name) if takes_unit(known) else ():
            example = {**activity(slug).example, known.name: given(1 if known.max != 30 else 0.5, unit)}
            assert validator.is_valid(example), (known.name, unit)
            assert check_measurements(activity(slug), example) == [], (known.name, unit)


def test_a_schema_refuses_another_unit():
    validator = jsonschema_rs.validator_for(json_schema(activity("spill-bucket-test")))

    assert not validator.is_valid({"minutes": given(1, "mm")})
    assert set(stated_units(activity("inventory-month"))) == {"stated_gal", "stated_in"}


def test_every_outermost_limit_lies_beyond_what_the_catalogue_shows_as_usual():
    for slug, each in catalogue().items():
        assert check_measurements(each, each.example) == [], slug

"""The published JSON Schema says the same as the check, judged by an independent validator."""

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.activities.catalogue import Activity, Measurement, activity, catalogue, slugs
from equipment.activities.measurements import check_measurements
from equipment.activities.schemas import DIALECT, example, json_schema

VALIDATORS = {slug: jsonschema_rs.validator_for(json_schema(found)) for slug, found in catalogue().items()}
ONLY_THE_CHECK_KNOWS = {"near-miss"}

# NUL and lone surrogates are refused by the check alone, so they stay out of the comparison.
TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20)
NUMBERS = st.integers(-(10**13), 10**13) | st.floats(allow_nan=False, allow_infinity=False)
SCALARS = st.none() | st.booleans() | NUMBERS | TEXTS | st.just(" \t")


def values_like(measurement: Measurement) -> st.SearchStrategy[object]:
    """Right, nearly right, and wrong values of a measurement."""
    right: st.SearchStrategy[object] = SCALARS
    if measurement.choices:
        right |= st.sampled_from(measurement.choices)
        right |= st.lists(st.sampled_from(measurement.choices), max_size=3)
    if measurement.fields:
        right |= st.lists(objects_of(measurement.fields), max_size=2)
    return right | st.lists(SCALARS, max_size=2) | st.dictionaries(TEXTS, SCALARS, max_size=1)


def objects_of(known: tuple[Measurement, ...]) -> st.SearchStrategy[dict[str, object]]:
    optional = {each.name: values_like(each) for each in known} | {"leak": SCALARS, "x_own": SCALARS}
    return st.fixed_dictionaries({}, optional={name: optional[name] for name in sorted(optional)})


@st.composite
def nearly_right(draw: st.DrawFn) -> tuple[Activity, dict[str, object]]:
    """The example of an activity with a few values exchanged, taken out or added."""
    found = draw(st.sampled_from(list(catalogue().values())))
    values = example(found)
    for name in draw(st.lists(st.sampled_from([*found.by_name, "surplus"]), max_size=3)):
        if draw(st.booleans()) and name in values:
            del values[name]
        else:
            values[name] = draw(values_like(found.by_name[name]) if name in found.by_name else SCALARS)
    return found, values


@pytest.mark.parametrize("slug", sorted(slugs()))
def test_every_schema_is_a_valid_2020_12_schema(slug):
    schema = json_schema(activity(slug))

    assert schema["$schema"] == DIALECT
    assert jsonschema_rs.meta.is_valid(schema)


@pytest.mark.parametrize("slug", sorted(slugs()))
def test_every_example_is_valid_under_its_schema(slug):
    assert VALIDATORS[slug].is_valid(example(activity(slug)))


@settings(deadline=None)
@given(nearly_right())
def test_schema_and_check_accept_the_same_measurements(case):
    found, values = case

    refused = {fault.code for fault in check_measurements(found, values)} - ONLY_THE_CHECK_KNOWS

    assert VALIDATORS[found.slug].is_valid(values) == (not refused)


def test_a_number_s_description_ends_in_its_unit():
    described = json_schema(activity("tank-tightness-test"))["properties"]["leak_rate_gph"]["description"]

    assert described.endswith("Unit: US gallons an hour.")


def test_an_example_is_a_copy_that_may_be_changed():
    first = example(activity("walkthrough"))
    first["items"][0]["result"] = "changed"

    assert example(activity("walkthrough"))["items"][0]["result"] != "changed"

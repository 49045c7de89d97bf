"""What `check_measurements` refuses, where it points, and what it says."""

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.activities.catalogue import activity, catalogue
from equipment.activities.measurements import MAX_DEPTH, MAX_ITEMS, MAX_TEXT, Fault, check_measurements

ACTIVITIES = st.sampled_from(list(catalogue().values()))
ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text()
    | st.binary()
    | st.decimals()
    | st.dates(),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.tuples(inner)
        | st.dictionaries(st.text() | st.integers(), inner, max_size=3)
    ),
    max_leaves=8,
)


def faults(slug: str, **values: object) -> list[Fault]:
    return check_measurements(activity(slug), values)


def codes(slug: str, **values: object) -> list[tuple[str, str]]:
    return [(fault.pointer, fault.code) for fault in faults(slug, **values)]


def test_a_failing_test_is_a_good_record():
    # PEI RP1200 section 6.2.6: a fall of 1/8 in fails the bucket; the record must be storable all the same.
    assert faults("spill-bucket-test", method="liquid", minutes=60, level_change_in=0.125) == []


def test_unknown_is_a_value_and_so_is_silence():
    # A shutoff that could not be looked at: nothing is known of its level (40 CFR 280.35(a)(2)).
    assert faults("overfill-inspection", set_at_required_level=None, acts_at_level=None, removed=False) == []
    assert faults("overfill-inspection") == []


def test_a_record_that_would_mean_nothing_is_refused():
    # 40 CFR 280.36(b): a walkthrough's record lists each area checked; 280.41: a result belongs to a method.
    assert codes("walkthrough", action_needed=False) == [("/areas", "missing")]
    assert codes("walkthrough", areas=None) == [("/areas", "missing")]
    assert codes("walkthrough", areas=[]) == [("/areas", "empty")]
    assert codes("tank-monitoring-result", leak_rate_gph=0.01) == [("/method", "missing")]


@pytest.mark.parametrize(
    ("name", "advice"),
    [
        ("leak_rate", "state the unit in the name: leak_rate_gph"),
        ("leak_rate_lph", "convert it: leak_rate_gph is in US gallons an hour"),
        ("lek_rate_gph", "no such measurement; did you mean leak_rate_gph?"),
        ("zzz", "known: detectable_leak_gph"),
    ],
)
def test_an_unknown_name_is_answered_with_the_mend(name, advice):
    (fault,) = faults("tank-tightness-test", **{name: 0.1})

    assert (fault.pointer, fault.code) == (f"/{name}", "unknown")
    assert advice in fault.detail


def test_a_name_that_lacks_one_of_several_units_is_answered_with_all_of_them():
    (fault,) = faults("tank-tightness-test", start=60)

    assert fault.detail == "state the unit in the name: start_degf"


@pytest.mark.parametrize(
    ("slug", "name", "value", "code"),
    [
        ("tank-tightness-test", "leak_rate_gph", True, "type"),
        ("tank-tightness-test", "leak_rate_gph", "0.1", "type"),
        ("tank-tightness-test", "leak_rate_gph", Decimal("0.1"), "type"),
        ("tank-tightness-test", "leak_rate_gph", math.nan, "not-finite"),
        ("tank-tightness-test", "leak_rate_gph", -math.inf, "not-finite"),
        ("tank-tightness-test", "leak_rate_gph", 10**13, "too-large"),
        ("tank-tightness-test", "fill_pct", 100.1, "above-maximum"),
        ("tank-tightness-test", "fill_pct", -0.1, "below-minimum"),
        ("cathodic-protection-test", "points", 3.5, "type"),
        ("cathodic-protection-test", "points", False, "type"),
        ("overfill-inspection", "removed", 1, "type"),
        ("overfill-inspection", "removed", "true", "type"),
        ("spill-bucket-test", "method", "Vacuum", "choice"),
        ("spill-bucket-test", "method", ["vacuum"], "type"),
        ("spill-bucket-test", "weather", "   ", "empty"),
        ("spill-bucket-test", "weather", "x" * (MAX_TEXT + 1), "too-long"),
        ("spill-bucket-test", "weather", "dry\x00", "unstorable"),
        ("spill-bucket-test", "weather", "dry\ud800", "unstorable"),
        ("spill-bucket-test", "weather", 5, "type"),
        ("repair", "parts_replaced", "seal", "type"),
        ("repair", "parts_replaced", ["seal"] * (MAX_ITEMS + 1), "too-long"),
        ("repair", "part", "Interstice", "near-miss"),
    ],
)
def test_a_wrong_value_is_refused_at_its_place(slug, name, value, code):
    assert codes(slug, **{name: value}) == [(f"/{name}", code)]


def test_a_whole_number_may_arrive_with_a_point():
    # JSON has one kind of number: 3.0 is an integer in JSON Schema 2020-12 (section 4.2.3 of the core).
    assert faults("cathodic-protection-test", points=3.0) == []


@pytest.mark.parametrize("name", ["leak_rate_gph", "x_rate"])
def test_a_number_too_long_to_print_is_refused_without_printing_it(name):
    # Python refuses to print integers of more than 4,300 digits (docs of sys.set_int_max_str_digits).
    values = {name: 10**5000}

    found = check_measurements(activity("tank-tightness-test"), values)

    assert [fault.code for fault in found] == ["too-large"]


def test_a_refused_choice_lists_the_choices():
    (fault,) = faults("spill-bucket-test", method="water")

    assert fault.detail == "is 'water'; choose one of vacuum, pressure, liquid, visual, other"


def test_an_area_is_named_once():
    assert codes("walkthrough", areas=["spill", "roof", "spill"]) == [
        ("/areas/1", "choice"),
        ("/areas/2", "repeated"),
    ]


def test_a_fault_inside_a_row_points_into_the_row():
    readings = [{"structure": "T1", "on_mv": -900}, {"on": -1}, "T1"]

    found = faults("cathodic-protection-test", readings=readings)

    assert [(fault.pointer, fault.code) for fault in found] == [
        ("/readings/1/on", "unknown"),
        ("/readings/1/structure", "missing"),
        ("/readings/2", "type"),
    ]
    assert found[0].detail == "state the unit in the name: on_mv"


@pytest.mark.parametrize("notice", ["Fuel Switch", "fuel-switch", "fuel swich"])
def test_a_word_that_rules_would_miss_by_a_slip_is_refused(notice):
    (fault,) = faults("notice-to-agency", notice=notice)

    assert fault.code == "near-miss"
    assert "'fuel switch'" in fault.detail


@pytest.mark.parametrize("notice", ["fuel switch", "sump-test", "temporary closure"])
def test_another_word_on_purpose_is_accepted(notice):
    assert faults("notice-to-agency", notice=notice) == []


def test_a_senders_own_values_pass_as_long_as_they_can_be_stored():
    deep: object = 1
    for _ in range(MAX_DEPTH + 1):
        deep = [deep]

    assert faults("repair", x_job={"no": 17, "crew": ["a", None, True]}) == []
    assert codes("repair", x_job=[1, math.nan]) == [("/x_job/1", "not-finite")]
    assert codes("repair", x_job={"a": b"raw"}) == [("/x_job/a", "type")]
    assert codes("repair", x_job={1: 2}) == [("/x_job/1", "type")]
    assert [code for _, code in codes("repair", x_job=deep)] == ["type"]


def test_a_pointer_escapes_what_a_json_pointer_must_escape():
    # RFC 6901 section 3: ~ is written ~0 and / is written ~1.
    assert codes("repair", **{"a/b~c": 1}) == [("/a~1b~0c", "unknown")]


@settings(deadline=None)
@given(ACTIVITIES, st.data())
def test_no_mapping_makes_the_check_raise(found, data):
    names = st.sampled_from([*found.by_name, "x_own"]) | st.text() | st.integers()
    values = data.draw(st.dictionaries(names, ANYTHING, max_size=6))

    result = check_measurements(found, values)

    assert all(fault.pointer.startswith("/") and fault.detail and fault.code for fault in result)

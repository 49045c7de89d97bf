"""Three-valued logic.

The tables are those of Kleene's strong logic (Introduction to Metamathematics, 1952, section 64), which SQL uses for
NULL (ISO/IEC 9075-2): from memory, both are textbook knowledge.
"""

from datetime import date
from itertools import product
from zoneinfo import ZoneInfo

import pytest

from compliance.rules.conditions import Blank, parse_condition
from compliance.rules.moments import LocalCalendar

T, F, U = True, False, None
AND = {(T, T): T, (T, F): F, (T, U): U, (F, T): F, (F, F): F, (F, U): F, (U, T): U, (U, F): F, (U, U): U}
OR = {(T, T): T, (T, F): T, (T, U): T, (F, T): T, (F, F): F, (F, U): U, (U, T): T, (U, F): U, (U, U): U}


class Fields:
    """A scope with the given fields, which notes what `today` was compared with."""

    calendar = LocalCalendar(ZoneInfo("America/New_York"))

    def __init__(self, **fields):
        self.fields, self.bounds = fields, []

    def read(self, path):
        return self.fields.get("__".join(path))

    def blank(self, path):
        return Blank("X", "__".join(path))

    def note_today(self, bound):
        self.bounds.append(bound)


def no_names(name):
    raise ValueError(f"no condition is named {name!r}")


def verdict(source, named=no_names, **fields):
    scope = Fields(**fields)
    return parse_condition(source, named).verdict(scope, scope)


def truth(source, **fields):
    return verdict(source, **fields).truth


@pytest.mark.parametrize(("left", "right"), list(product([T, F, U], repeat=2)))
def test_a_table_is_true_false_or_unknown_as_and_says(left, right):
    assert truth({"a": True, "b": True}, a=left, b=right) is AND[left, right]


@pytest.mark.parametrize(("left", "right"), list(product([T, F, U], repeat=2)))
def test_a_list_is_true_false_or_unknown_as_or_says(left, right):
    assert truth([{"a": True}, {"b": True}], a=left, b=right) is OR[left, right]


@pytest.mark.parametrize(
    ("key", "right", "value", "expected"),
    [
        ("a", "x", "x", T),
        ("a__ne", "x", "x", F),
        ("a__lt", 25, 25, F),
        ("a__lte", 25, 25, T),
        ("a__gt", 25, 26, T),
        ("a__gte", 25, 24, F),
        ("a__in", ["x", "y"], "y", T),
        ("a__in", ["x", "y"], "z", F),
        ("a__contains", "x", ["y", "x"], T),
        ("a__contains", "x", ["y"], F),
        ("a__abs__gt", 100, -101, T),
        ("a__lte", date(2016, 4, 11), date(2016, 4, 11), T),
        ("a__gt", date(2016, 4, 11), "2016-04-12", T),
        ("a", 1, "one", U),
        ("a", 1, True, U),
    ],
)
def test_a_look_up_compares_as_its_name_says(key, right, value, expected):
    assert truth({key: right}, a=value) is expected


@pytest.mark.parametrize(
    "key", ["a", "a__ne", "a__lt", "a__lte", "a__gt", "a__gte", "a__contains", "a__abs__gt"]
)
def test_unknown_compared_with_anything_is_unknown(key):
    assert truth({key: 1}) is None


def test_whether_a_field_is_known_is_always_decided():
    assert (truth({"a__isnull": True}), truth({"a__isnull": True}, a=0)) == (True, False)


def test_the_right_side_may_be_an_expression():
    assert truth({"ullage__gt": "=ordered"}, ullage=500, ordered=500) is False


def test_an_unknown_right_side_is_named_as_the_missing_fact():
    assert verdict({"ullage__gt": "=ordered"}, ullage=500).missing == (Blank("X", "ordered"),)


def test_only_the_facts_that_decide_are_missing():
    found = verdict([{"a": True, "b": True}, {"c": True}], a=False)

    assert found.missing == (Blank("X", "c"),)


def test_a_name_stands_for_its_list():
    assert verdict(["shut"], named={"shut": [{"a": "closed"}]}.__getitem__, a="closed").truth is True


def test_comparing_today_leaves_its_bound():
    scope = Fields(today=date(2026, 1, 1), start=date(2020, 1, 1))
    condition = parse_condition({"today__lte": "=10 years after start"}, no_names)

    condition.verdict(scope, scope)

    assert scope.bounds == [date(2030, 1, 1)]


@pytest.mark.parametrize(
    "source",
    [3, {"a__isnull": "yes"}, {"a__in": "x"}, {"a": {"b": 1}}, {"A": 1}, "unknown name", {"a": "=30 days"}],
)
def test_what_is_no_condition_is_refused(source):
    with pytest.raises(ValueError):  # noqa: PT011 - several messages, each names the key
        parse_condition(source, no_names)

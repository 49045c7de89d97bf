"""The language of moments and numbers.

Expected dates are counted on a calendar; the inventory limit is that of 40 CFR 280.43(a): 1 per cent of the month's
throughput plus 130 gallons.
"""

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from compliance.rules.expressions import origin_of, parse_expression
from compliance.rules.moments import LocalCalendar


class Fields:
    """A scope with the given fields."""

    calendar = LocalCalendar(ZoneInfo("America/New_York"))

    def __init__(self, **fields):
        self.fields = fields

    def read(self, path):
        return self.fields.get("__".join(path))


def value(text, **fields):
    return parse_expression(text).value(Fields(**fields))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2018-10-13", date(2018, 10, 13)),
        ("on started_on", date(2026, 1, 31)),
        ("30 days after started_on", date(2026, 3, 2)),
        ("48 hours before 2026-01-03", Fields.calendar.read("2026-01-01T00:00")),
        ("30 days before 12 months after started_on", date(2027, 1, 1)),
        ("later of 2018-10-13 | 30 days after started_on", date(2026, 3, 2)),
        ("earlier of 2018-10-13 | started_on", date(2018, 10, 13)),
        ("end of month 1 month after started_on", date(2026, 2, 28)),
    ],
)
def test_a_moment_is_read_as_it_is_said(text, expected):
    assert value(text, started_on=date(2026, 1, 31)) == expected


def test_the_inventory_limit_is_one_per_cent_and_130_gallons():
    """40 CFR 280.43(a): 31,000 gallons of throughput allow 440 gallons."""
    assert value("130 + 0.01 * throughput_gal", throughput_gal=31000) == pytest.approx(440)


@pytest.mark.parametrize(
    "text", ["on a", "30 days after a", "later of 2018-10-13 | a", "end of month a", "130 + 0.01 * a"]
)
def test_whatever_rests_on_an_unknown_field_is_unknown(text):
    assert value(text) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "30 days since a",
        "30 fortnights after a",
        "later of a",
        "A",
        "a b",
        "2026-13-01",
        "130 / 2",
        "on today",
    ],
)
def test_what_is_no_expression_is_refused(text):
    with pytest.raises(ValueError):  # noqa: PT011 - several messages, each names the text
        parse_expression(text)


def test_a_due_after_an_event_opens_with_the_event():
    assert origin_of(parse_expression("30 days after performed_at")) == parse_expression("performed_at")


@pytest.mark.parametrize("text", ["30 days before planned_on", "on started_at", "2018-10-13"])
def test_a_due_that_is_not_after_something_has_no_opening(text):
    assert origin_of(parse_expression(text)) is None

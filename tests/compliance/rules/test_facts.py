"""Derived and dated facts: inherited status, `since`, `previous`, `run`, gaps between deliveries, answers.

Gaps follow 40 CFR 280.36(a)(1)(i): intervals "greater than every 30 days" between deliveries.
"""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from compliance.rules.document import read_document
from compliance.rules.facts import Facts
from compliance.rules.view import ItemScope, Trace, View
from tests.compliance.rules.sites import cup_test, site

ZONE = ZoneInfo("America/New_York")


def read(raw, item, path, at=datetime(2026, 6, 1, 12, tzinfo=UTC)):
    facts = Facts(read_document(raw))
    scope = ItemScope(View(facts, facts.calendar, at, at, Trace()), facts.items[item])
    return scope.read(tuple(path.split("__")))


SHUT = {"of": "S", "on": "2026-03-01", "status": "temporarily out of service", "residue_in": 0.5}


@pytest.mark.parametrize(
    ("path", "value"), [("status", SHUT["status"]), ("residue_in", 0.5), ("status__since", date(2026, 3, 1))]
)
def test_a_status_reaches_everything_below(path, value):
    assert read(site(changes=[SHUT]), "SB", path) == value


def test_a_status_of_ones_own_goes_before_that_of_the_parent():
    own = {"of": "SB", "on": "2026-04-01", "status": "currently in use"}

    assert read(site(changes=[SHUT, own]), "SB", "status") == "currently in use"


def test_a_status_nobody_stated_is_in_use_and_a_stated_unknown_is_unknown():
    unknown = {"of": "SB", "on": "2026-04-01", "status": "unknown"}

    assert read(site(), "SB", "status") == "currently in use"
    assert read(site(changes=[unknown]), "SB", "status") is None


def test_since_is_the_start_of_the_unbroken_stretch():
    again = [{"of": "S", "on": day, "status": SHUT["status"]} for day in ("2026-03-05", "2026-03-09")]

    assert read(site(changes=[SHUT, *again]), "SB", "status__since") == date(2026, 3, 1)


def test_since_is_unknown_where_no_change_began_it():
    assert read(site(bucket={"both_walls_monitored": False}), "SB", "both_walls_monitored__since") is None


def test_a_kind_hops_to_the_nearest_such_item_above():
    tank = {"id": "T", "kind": "tank", "parent": "S", "installed_on": "2005-05-01"}
    room = {"id": "C", "kind": "compartment", "parent": "T"}

    assert read(site(components=[tank, room]), "C", "tank__installed_on") == date(2005, 5, 1)


def test_previous_and_run_follow_rows_of_the_same_sort_about_the_same_item():
    rows = [cup_test(f"2026-0{month}-01", "inconclusive", id=f"R{month}") for month in (1, 2, 3)]
    other = cup_test("2026-02-15", "pass", id="X", subject="S")

    assert read(site(*rows, other), "R3", "run") == 3
    assert read(site(*rows, other), "R3", "previous") == "R2"


def test_a_corrected_row_is_no_previous_one():
    rows = [
        cup_test("2026-01-01", id="R1"),
        cup_test("2026-01-01", id="R2", supersedes="R1"),
        cup_test("2026-02-01", id="R3"),
    ]

    assert read(site(*rows), "R3", "previous") == "R2"


DELIVERIES = [
    {"id": f"D{i}", "started_at": day} for i, day in enumerate(["2026-01-01", "2026-03-14", "2026-04-01"])
]


@pytest.mark.parametrize(
    ("day", "gap"),
    [
        ("2026-01-02", 72),  # between the first two
        ("2026-03-14", 72),  # the day of the second delivery still belongs to it
        ("2026-03-15", 18),  # in hindsight the short interval counts
        ("2026-06-01", 18),  # after the last one: the last closed interval
        ("2026-01-01", None),
    ],
)
def test_the_interval_between_deliveries_that_holds_the_day_counts(day, gap):
    facts = Facts(read_document(site(deliveries=DELIVERIES)))

    assert facts.delivery_gap(date.fromisoformat(day), date(2026, 6, 1)) == gap


def test_deliveries_after_the_judged_day_have_not_happened():
    facts = Facts(read_document(site(deliveries=DELIVERIES)))

    assert facts.delivery_gap(date(2026, 3, 20), date(2026, 3, 20)) == 72


def test_an_answer_to_an_alarm_entered_later_does_not_excuse_an_earlier_moment():
    answer = {"type": "planned test", "at": "2026-03-05", "evidence": {"repaired_at": "2026-03-10"}}
    raw = site(
        alarms=[{"id": "A", "condition": "high-water", "raised_at": "2026-03-01", "disposition": answer}]
    )

    def seen(path, *day):
        return read(raw, "A", path, at=datetime(*day, 12, tzinfo=ZONE))

    assert [seen("disposition__type", 2026, 3, day) for day in (4, 5)] == [None, "planned test"]
    assert seen("disposition__evidence__repaired_at", 2026, 3, 9) is None


def test_alarm_and_record_defaults_are_those_of_the_format():
    raw = site(
        cup_test("2026-01-01", id="R"),
        alarms=[{"id": "A", "condition": "sump-fuel", "raised_at": "2026-03-01"}],
    )

    assert read(raw, "A", "condition_class") == "unusual operating condition"
    assert read(raw, "A", "discovered_at") == date(2026, 3, 1)
    assert read(raw, "R", "recorded_at") == date(2026, 1, 1)


def test_rows_without_an_id_have_a_stable_reference():
    facts = Facts(read_document(site(cup_test("2026-01-01"), cup_test("2026-01-01"))))

    assert [ref for ref in facts.items if "@" in ref] == ["cup-test@2026-01-01", "cup-test@2026-01-01#2"]

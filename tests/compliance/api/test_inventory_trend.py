"""The picture of a ledger's trend: what it says in words, and that they can be read."""

from datetime import date, timedelta
from xml.etree import ElementTree

import pytest
import time_machine

from compliance.protocols.criteria import installed
from tests import world
from tests.equipment.api.calls import at
from tests.equipment.api.pictures import SMALLEST, off_the_page, overlapping, smallest_on_a_phone
from tests.equipment.ledgers import inventory_day

PICTURE = "/inventory/T1/trend.svg"


@pytest.fixture(autouse=True)
def tank(own):
    world.component(own, "tank_system", "S1")
    return world.component(own, "tank", "T1", parent="S1", compartment_capacity_gallons=10_000)


@pytest.fixture
def picture(own, owner_client):
    def drawn(**asked) -> bytes:
        with time_machine.travel(world.NOW, tick=False):
            answer = owner_client.get(at(own, PICTURE), asked)
        assert answer.headers["Content-Type"].startswith("image/svg+xml")
        return bytes(answer.content)

    return drawn


def words_of(content: bytes) -> str:
    return " | ".join(ElementTree.fromstring(content).itertext())


def losing(own, first: date, days: int) -> None:
    """Every day 100 gal are pumped and the level stays: 100 gal a day over, 3,000 gal a month of some 160 allowed."""
    for number in range(days):
        inventory_day(own, first + timedelta(days=number))


def test_two_months_over_the_limit_are_marked_apart_and_told_in_words(own, picture):
    """31 days of 100 gal: 3,100 gal over, 1 percent of 3,100 and 130 are allowed: 161. February: 28 days, 158."""
    losing(own, date(2025, 12, 31), 60)

    drawn = picture(first="2026-01-01", last="2026-02-28")

    words = words_of(drawn)
    assert "Jan 2026: 3,100 gal over, 161 allowed (us-federal)" in words
    assert "Feb 2026, report: 2,800 gal over, 158 allowed (us-federal)" in words
    assert "2 of 2 complete periods over the limit" in words
    assert "100.0 gal a day over" in words
    assert "over the limit: look for the cause" in words
    # A ring in the plot, in the words for rings and in the list; as many squares.
    assert drawn.count(b"<circle") == 3
    assert drawn.count(b'width="10" height="10"') == 3


def test_the_words_can_be_read_on_a_phone_over_three_years(own, picture):
    losing(own, date(2025, 12, 31), 60)

    for asked in (
        {"first": "2023-03-05", "last": "2026-03-04"},
        {"first": "2026-02-01", "last": "2026-02-02"},
    ):
        drawn = picture(**asked)
        assert overlapping(drawn) == []
        assert off_the_page(drawn) == []
        assert smallest_on_a_phone(drawn) >= SMALLEST


@pytest.mark.parametrize("state", sorted({rule.jurisdiction for rule in installed().inventory}))
def test_the_words_can_be_read_under_every_states_rule(state, own, picture):
    own.jurisdictions = [state]
    own.save()
    losing(own, date(2025, 12, 31), 60)

    drawn = picture(first="2026-01-01", last="2026-02-28")

    assert overlapping(drawn) == []
    assert off_the_page(drawn) == []
    # Wisconsin counts what is short alone, and this ledger is over.
    assert (f"({state})" in words_of(drawn)) == (state != "us-wi")


def test_a_ledger_without_days_says_so(picture):
    words = words_of(picture(first="2025-01-01", last="2025-12-31"))

    assert "No day from 2025-01-01 to 2025-12-31 can be reckoned yet" in words


def test_a_day_alone_is_a_dot(own, picture):
    inventory_day(own, date(2026, 2, 10), opening_gal=1_000.0, basis="stick")

    assert b'r="3"' in picture(first="2026-02-01", last="2026-02-28")

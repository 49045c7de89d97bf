"""A span of the ledger added up: what temperature may explain of a delivery, and what cannot be.

A petroleum liquid grows by some 0.0005 to 0.0008 of its volume for one degree Fahrenheit (API MPMS chapter 11.1, order
of magnitude from memory); a gallon is 231 in3.
"""

from datetime import date, timedelta

import pytest

from equipment.physics.ledger_entries import Delivery, Entry, Reading, chain
from equipment.physics.ledger_month import doubts, explanations, span_of

FIRST = date(2026, 3, 1)
LOAD = {"receipt_gal": 5_000.0, "product_degf": 70.0, "tank_degf": 55.0, "api_gravity": 60.0}


def gal(value: float) -> tuple[Reading, ...]:
    return (Reading(gal=value),)


def entry(number: int, closing: float, pumped: float, **more) -> Entry:
    """A day of March 2026."""
    on = FIRST + timedelta(days=number)
    return Entry(on=on, measured_by="stick", readings=gal(closing), pumped_gal=pumped, **more)


def explained(**delivery):
    """The delivery of a day that opens with 1,000 gal, pumps 200 and closes 4 gal short of its book."""
    came = Delivery(before=gal(1_000.0), after=gal(5_996.3), **delivery)
    links = chain([entry(0, 5_792.3, 200.0, opening_gal=1_000.0, deliveries=(came,))])
    [found] = explanations(links, span_of(links, FIRST, FIRST, "stick"))
    return found


def test_the_gauge_is_held_against_the_receipt_to_the_digit():
    """5,996.3 - 1,000 - 5,000 = -3.7 gal, which binary fractions miss."""
    found = explained(**LOAD)

    assert (found.delivered_gal, found.against_receipt_gal) == (4_996.3, -3.7)


def test_a_load_warmer_than_the_tank_shrinks_and_that_is_set_apart():
    """15 degrees colder by 0.0005 to 0.0008 a degree are 37 to 60 of 4,996 gal."""
    found = explained(**LOAD)

    assert -60 < found.growth_gal < -37
    assert found.factor < 1
    assert found.over_short_gal == -4.0
    assert found.without_growth_gal == pytest.approx(-4.0 - found.growth_gal)


@pytest.mark.parametrize("unknown", ["product_degf", "tank_degf", "api_gravity"])
def test_what_nobody_stated_is_named_and_nothing_is_guessed(unknown):
    found = explained(**(LOAD | {unknown: None}))

    assert found.lacking == (unknown,)
    assert (found.growth_gal, found.without_growth_gal) == (None, None)
    assert found.over_short_gal == -4.0


def test_a_delivery_by_its_receipt_is_held_against_nothing():
    links = chain(
        [entry(0, 5_796.0, 200.0, opening_gal=1_000.0, deliveries=(Delivery(receipt_gal=5_000.0),))]
    )

    [found] = explanations(links, span_of(links, FIRST, FIRST, "stick"))

    assert (found.delivered_gal, found.against_receipt_gal) == (5_000.0, None)


def test_a_day_that_pumps_what_the_tank_did_not_hold_is_doubted():
    links = chain(
        [entry(0, 900.0, 100.0, opening_gal=1_000.0), entry(1, 900.0, 901.0), entry(2, 800.0, 900.0)]
    )

    assert doubts(links, FIRST, FIRST) == []
    [told] = doubts(links, FIRST, FIRST + timedelta(days=2))
    assert "2026-03-02:" in told

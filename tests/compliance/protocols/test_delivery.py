"""Room for a load (40 CFR 280.30(a); 23 CCR 2635 as quoted in county files)."""

from hypothesis import given
from hypothesis import strategies as st

from compliance.protocols import Setting
from compliance.protocols.delivery import Holding, delivery_fit
from tests.compliance.protocols.worked import FEDERAL

CALIFORNIA = Setting(on=FEDERAL.on, jurisdictions=("us-federal", "us-ca"))
TANK = Holding(capacity_gal=10_000, product_gal=4_700, limit_pct=90)


def test_a_load_that_fills_the_room_exactly_is_refused():
    """Wisconsin course: 10,000 x 0.9 - 4,700 = 4,300; the volume available must be greater than the load."""
    exactly, under = delivery_fit([TANK], 4_300, FEDERAL), delivery_fit([TANK], 4_299, FEDERAL)

    assert (exactly.fits, under.fits) == (False, True)
    assert exactly.room_gal == 4_300
    assert exactly.largest_order_gal == 4_299
    assert exactly.reasons[0].startswith(
        "A load of 4300 gal needs more than 4300 gal of room; there are 4300 gal."
    )


def test_california_wants_three_percent_or_two_hundred_gallons_more():
    """1.03 x 4,174 = 4,299.22 fits 4,300; 4,175 needs 4,300.25."""
    assert delivery_fit([TANK], 4_174, CALIFORNIA).fits
    assert not delivery_fit([TANK], 4_175, CALIFORNIA).fits
    assert delivery_fit([TANK], 4_175, CALIFORNIA).largest_order_gal == 4_174


def test_a_large_load_in_california_needs_two_hundred_gallons_more():
    """Over 6,666.7 gal the fixed 200 gal is the lesser."""
    empty = Holding(capacity_gal=10_000, product_gal=800, limit_pct=90)

    assert delivery_fit([empty], 8_000, CALIFORNIA).fits
    assert delivery_fit([empty], 8_001, CALIFORNIA).largest_order_gal == 8_000


def test_bottom_water_takes_room():
    wet = Holding(capacity_gal=10_000, product_gal=4_700, limit_pct=90, water_gal=100)

    assert delivery_fit([wet], 1, FEDERAL).room_gal == 4_200


def test_manifolded_tanks_are_one_volume():
    full = Holding(capacity_gal=10_000, product_gal=9_200, limit_pct=90)

    assert delivery_fit([TANK, full], 1, FEDERAL).room_gal == 4_100


def test_a_tank_above_its_limit_has_no_room_and_takes_no_order():
    full = Holding(capacity_gal=12_000, product_gal=11_500, limit_pct=90)

    found = delivery_fit([full], 1, FEDERAL)

    assert (found.fits, found.room_gal, found.largest_order_gal) == (False, 0, 0)


@given(st.integers(0, 9_000), st.sampled_from([FEDERAL, CALIFORNIA]))
def test_the_largest_order_fits_and_one_gallon_more_does_not(product, setting):
    tank = Holding(capacity_gal=10_000, product_gal=product, limit_pct=90)
    largest = delivery_fit([tank], 1, setting).largest_order_gal

    assert largest == 0 or delivery_fit([tank], largest, setting).fits
    assert not delivery_fit([tank], largest + 1, setting).fits

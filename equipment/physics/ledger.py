"""The daily ledger behind inventory control: book, over and short, and what is wrong with a month of entries.

Book = opening + delivered - pumped; over/short = closing by stick - book. On the stick basis the next day opens with
the closing stick and the month is the sum; on the book basis it opens with the closing book and the last figure is the
month. Both end on the same number; a ledger that mixes them is wrong.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from math import pi
from typing import Literal

import msgspec

from equipment.faults import Fault
from equipment.physics.digits import exact, shown
from equipment.physics.units import CUBIC_INCHES_A_GALLON

Basis = Literal["stick", "book"]


class LedgerDay(msgspec.Struct, frozen=True, kw_only=True):
    """One operating day: gallons by meter, gallons delivered by gauge, closing volume by stick or gauge.

    `opening_gal` is what the day says it opened with; None lets the basis say it. `refill_gal` filled an empty line
    after a repair: it left the tank, and no meter saw it.
    """

    on: date
    pumped_gal: float
    closing_gal: float
    delivered_gal: float = 0.0
    refill_gal: float = 0.0
    opening_gal: float | None = None


class Reconciled(msgspec.Struct, frozen=True, kw_only=True):
    """A day's book, its over (positive) or short, and the running figure of the month."""

    on: date
    book_gal: float
    over_short_gal: float
    cumulative_gal: float


def reconcile(opening_gal: float, days: Sequence[LedgerDay], basis: Basis) -> list[Reconciled]:
    """Each day on one basis. On the book basis a day's over/short is already the running figure."""
    opening, cumulative = exact(opening_gal), Decimal(0)
    found = []
    for day in days:
        book = opening + exact(day.delivered_gal) - exact(day.pumped_gal) - exact(day.refill_gal)
        closing = exact(day.closing_gal)
        over = closing - book
        cumulative = over if basis == "book" else cumulative + over
        opening = book if basis == "book" else closing
        found.append(
            Reconciled(
                on=day.on,
                book_gal=float(book),
                over_short_gal=float(over),
                cumulative_gal=float(cumulative),
            )
        )
    return found


def basis_faults(opening_gal: float, days: Sequence[LedgerDay], basis: Basis) -> Iterator[Fault]:
    """A stated opening is held against the day before: the closing stick, or the closing book."""
    expected = exact(opening_gal)
    for number, (day, done) in enumerate(zip(days, reconcile(opening_gal, days, basis), strict=True)):
        if day.opening_gal is not None and exact(day.opening_gal) != expected:
            yield Fault(
                f"/days/{number}/opening_gal",
                f"opens with {day.opening_gal:g} gal, but on the {basis} basis the day before closed with "
                f"{shown(expected)} gal; keep to one basis",
                "mixed-basis",
            )
        expected = exact(done.book_gal if basis == "book" else day.closing_gal)


def pumped_by_meter(start: float, end: float, *, rolls_over_at: float | None = None) -> float:
    """Gallons between two totals of a meter. A meter that went past its last digit needs to be told where that is.

    ValueError when the total falls and `rolls_over_at` is not given or lies below the start.
    """
    if end >= start:
        return float(exact(end) - exact(start))
    if rolls_over_at is None or rolls_over_at <= start:
        raise ValueError(
            f"the total falls from {start:g} to {end:g} gal; say where the meter starts again from zero, or correct it"
        )
    return float(exact(rolls_over_at) - exact(start) + exact(end))


def delivered_by_gauge(before_gal: float, after_gal: float, pumped_meanwhile_gal: float) -> float:
    """Gallons that a delivery brought, by gauge; held against the receipt."""
    return float(exact(after_gal) - exact(before_gal) + exact(pumped_meanwhile_gal))


def line_refill(bore_in: float, length_ft: float) -> float:
    """Gallons that fill an empty line after a repair; added back to the month."""
    return pi / 4 * bore_in**2 * length_ft * 12 / CUBIC_INCHES_A_GALLON


def meter_error_percent(cubic_inches: float, gallons: float) -> float:
    """A meter's error on a test measure, in percent of it."""
    return cubic_inches * 100 / (gallons * CUBIC_INCHES_A_GALLON)

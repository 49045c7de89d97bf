"""A span of days of a ledger added up, and what is still missing in it. Gallons gross; no temperature is in them."""

from collections.abc import Sequence
from datetime import date, timedelta

import msgspec

from equipment.faults import Fault
from equipment.physics.digits import exact
from equipment.physics.ledger import Basis, Reconciled, reconcile
from equipment.physics.ledger_entries import Link
from equipment.physics.volume_correction import growth, volume_correction_api


class Explanation(msgspec.Struct, frozen=True, kw_only=True):
    """What temperature may have to do with a delivery day; it changes no figure.

    `growth_gal` is by how much the delivered gallons grow (negative: shrink) on their way to the temperature of the
    tank, `factor` turns them into gallons at 60 °F, `against_receipt_gal` is gauge minus receipt.
    """

    on: date
    delivered_gal: float
    receipt_gal: float | None
    against_receipt_gal: float | None
    factor: float | None
    net_at_60f_gal: float | None
    growth_gal: float | None
    over_short_gal: float | None
    without_growth_gal: float | None
    lacking: tuple[str, ...]


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """The days from `first` to `last`, both in it. The figures are None until nothing is missing.

    `days` are reconciled ones, empty until then; `days_stated` counts operating days on file.
    """

    first: date
    last: date
    missing: tuple[date, ...]
    faults: tuple[tuple[date, Fault], ...]
    opening_known: bool
    days: tuple[Reconciled, ...]
    days_stated: int
    idle_days: int
    opening_gal: float | None
    delivered_gal: float
    pumped_gal: float
    closing_gal: float | None
    net_gal: float | None
    water_in: float | None
    amended: int

    @property
    def complete(self) -> bool:
        return self.net_gal is not None


def span_of(links: Sequence[Link], first: date, last: date, basis: Basis) -> Span:
    """Add up the days of a chain that lie in the span. The chain may begin long before."""
    within = [link for link in links if first <= link.entry.on <= last]
    stated = {link.entry.on for link in within}
    missing = tuple(day for day in _days(first, last) if day not in stated)
    faults = tuple((link.entry.on, fault) for link in within for fault in link.faults)
    operating = [link for link in within if not link.entry.idle]
    days = [link.day for link in operating if link.day is not None]
    opening = operating[0].opening_gal if operating else None
    readable = bool(days) and len(days) == len(operating) and not missing and opening is not None
    reconciled = reconcile(opening, days, basis) if readable and opening is not None else []
    return Span(
        first=first,
        last=last,
        missing=missing,
        faults=faults,
        opening_known=opening is not None,
        days=tuple(reconciled),
        days_stated=len(operating),
        idle_days=len(within) - len(operating),
        opening_gal=opening,
        delivered_gal=float(sum(exact(day.delivered_gal) for day in days)),
        pumped_gal=float(sum(exact(day.pumped_gal) for day in days)),
        closing_gal=days[-1].closing_gal if days else None,
        net_gal=reconciled[-1].cumulative_gal if reconciled else None,
        water_in=_last_water(operating),
        amended=sum(link.entry.amended for link in within),
    )


def daily_over_short(links: Sequence[Link]) -> list[tuple[date, float]]:
    """Over (positive) or short of each operating day whose opening and meters are known, by the readings."""
    return [
        (link.entry.on, reconcile(link.opening_gal, [link.day], "stick")[0].over_short_gal)
        for link in links
        if link.day is not None and link.opening_gal is not None
    ]


def doubts(links: Sequence[Link], first: date, last: date) -> list[str]:
    """What cannot be although each entry by itself can: more left a tank in a day than it held and got."""
    below = [
        link.entry.on
        for link in links
        if first <= link.entry.on <= last and link.day is not None and link.opening_gal is not None
        if reconcile(link.opening_gal, [link.day], "stick")[0].book_gal < 0
    ]
    if not below:
        return []
    days = ", ".join(map(str, below))
    return [f"The book falls below zero on {days}: a delivery is missing, or a meter is wrong."]


def explanations(links: Sequence[Link], span: Span) -> list[Explanation]:
    """One for each delivery of the span."""
    over = {day.on: day.over_short_gal for day in span.days}
    return [
        _explanation(link, number, over.get(link.entry.on))
        for link in links
        if span.first <= link.entry.on <= span.last
        for number in range(len(link.entry.deliveries))
    ]


def _explanation(link: Link, number: int, over: float | None) -> Explanation:
    one, gallons = link.entry.deliveries[number], link.delivered[number]
    gauged = bool(one.before and one.after)
    api, hot, cold = one.api_gravity, one.product_degf, one.tank_degf
    stated = {"product_degf": hot, "tank_degf": cold, "api_gravity": api}
    factor = net = grown = None
    if api is not None and hot is not None:
        factor = volume_correction_api(api, hot)
        net = round(gallons * factor, 1)
    if api is not None and hot is not None and cold is not None:
        grown = round(growth(gallons, api, hot, cold), 1)
    known = grown is not None and over is not None
    return Explanation(
        on=link.entry.on,
        delivered_gal=gallons,
        receipt_gal=one.receipt_gal,
        against_receipt_gal=None
        if one.receipt_gal is None or not gauged
        else float(exact(gallons) - exact(one.receipt_gal)),
        factor=factor,
        net_at_60f_gal=net,
        growth_gal=grown,
        over_short_gal=over,
        without_growth_gal=round((over or 0.0) - (grown or 0.0), 1) if known else None,
        lacking=tuple(name for name, value in stated.items() if value is None),
    )


def _last_water(operating: Sequence[Link]) -> float | None:
    """The last water that was read, the highest of the ledger's tanks."""
    for link in reversed(operating):
        found = [one.water_in for one in link.entry.readings if one.water_in is not None]
        if found:
            return max(found)
    return None


def _days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]

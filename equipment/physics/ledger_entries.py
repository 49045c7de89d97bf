"""A day of the ledger as it was stated, and the chain of days that follows from it.

Net product is the volume at the level less the volume of the water under it; volumes are subtracted, never inches (US
Army QM5097, p. 51). Water is read less often than product (40 CFR 280.43(a)(6): once a month), so that a day without a
water reading keeps the last one. A meter's day starts where the day before ended, unless the day says otherwise.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Literal

import msgspec

from equipment.faults import Fault
from equipment.physics.digits import exact
from equipment.physics.ledger import Basis, LedgerDay, basis_faults, delivered_by_gauge, pumped_by_meter

DAY = timedelta(days=1)


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """What one tank held. Levels in inches; `gal` at the level with the water in it, or product where no level stands.

    `water_gal` is the volume of `water_in`, None where the tank's chart was not at hand.
    """

    tank: str | None = None
    level_in: float | None = None
    gal: float | None = None
    water_in: float | None = None
    water_gal: float | None = None


class MeterDay(msgspec.Struct, frozen=True, kw_only=True):
    """Totals of one meter, gallons; `rolls_over_at` where it passed its last digit that day."""

    meter: str
    end: float
    start: float | None = None
    rolls_over_at: float | None = None


class Delivery(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel that came: readings of every tank before and after, what was pumped meanwhile, the receipt; °F and °API."""

    before: tuple[Reading, ...] = ()
    after: tuple[Reading, ...] = ()
    pumped_meanwhile_gal: float = 0.0
    receipt_gal: float | None = None
    receipt: str | None = None
    product_degf: float | None = None
    tank_degf: float | None = None
    api_gravity: float | None = None


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One stated day; `id` is None until it is on file."""

    on: date
    id: int | None = None
    idle: bool = False
    measured_by: Literal["stick", "gauge"] | None = None
    opening_gal: float | None = None
    basis: Basis | None = None
    readings: tuple[Reading, ...] = ()
    meters: tuple[MeterDay, ...] = ()
    pumped_gal: float | None = None
    returned_gal: float = 0.0
    refill_gal: float = 0.0
    deliveries: tuple[Delivery, ...] = ()
    amended: bool = False


class Link(msgspec.Struct, frozen=True, kw_only=True):
    """A day in the chain. `opening_gal` is the closing of the day before, or what the day states; None: unknown.

    `day` is None for an idle day and for one whose meters cannot be read; `faults` point into the day.
    """

    entry: Entry
    opening_gal: float | None
    day: LedgerDay | None
    delivered: tuple[float, ...] = ()
    faults: tuple[Fault, ...] = ()


class _State:
    """What one day hands to the next."""

    def __init__(self) -> None:
        self.water: dict[str | None, float] = {}
        self.ends: dict[str, float] = {}
        self.closing: float | None = None

    def product(self, reading: Reading) -> float:
        """Gallons of product of one reading."""
        if reading.level_in is None:
            return reading.gal or 0.0
        water = self.water.get(reading.tank, 0.0) if reading.water_gal is None else reading.water_gal
        return float(exact(reading.gal or 0.0) - exact(water))

    def total(self, readings: Sequence[Reading]) -> float:
        return float(sum(exact(self.product(each)) for each in readings))

    def note_water(self, readings: Sequence[Reading]) -> None:
        self.water.update({one.tank: one.water_gal for one in readings if one.water_gal is not None})


def chain(entries: Sequence[Entry]) -> list[Link]:
    """The days in order, each with what it takes from the day before. A missing day breaks openings and meters."""
    state, links = _State(), list[Link]()
    before: date | None = None
    for entry in sorted(entries, key=lambda each: each.on):
        if before is not None and entry.on > before + DAY:
            state.closing, state.ends = None, {}
        links.append(_link(entry, state))
        before = entry.on
    return links


def _link(entry: Entry, state: _State) -> Link:
    opening = entry.opening_gal if state.closing is None else state.closing
    if entry.idle:
        return Link(entry=entry, opening_gal=opening, day=None)
    delivered, delivery_faults = _delivered(entry, state)
    pumped, meter_faults = _pumped(entry, state)
    state.note_water(entry.readings)
    closing = state.total(entry.readings)
    state.closing = closing
    faults = (*delivery_faults, *meter_faults)
    day = None
    if pumped is not None:
        day = LedgerDay(
            on=entry.on,
            pumped_gal=pumped,
            closing_gal=closing,
            delivered_gal=float(sum(map(exact, delivered))),
            refill_gal=entry.refill_gal,
            opening_gal=entry.opening_gal,
        )
    return Link(entry=entry, opening_gal=opening, day=day, delivered=tuple(delivered), faults=faults)


def _delivered(entry: Entry, state: _State) -> tuple[list[float], list[Fault]]:
    """Gallons of each delivery: by gauge where it was read before and after, else by the receipt."""
    found, faults = list[float](), list[Fault]()
    for number, one in enumerate(entry.deliveries):
        if one.before and one.after:
            gallons = delivered_by_gauge(
                state.total(one.before), state.total(one.after), one.pumped_meanwhile_gal
            )
        else:
            gallons = one.receipt_gal or 0.0
        if gallons <= 0:
            faults.append(
                Fault(
                    f"/deliveries/{number}",
                    f"brought {gallons:g} gal; check the readings before and after and what was pumped meanwhile",
                    "below-minimum",
                )
            )
        found.append(gallons)
    return found, faults


def _pumped(entry: Entry, state: _State) -> tuple[float | None, list[Fault]]:
    """Gallons of the day by its meters less what was poured back; None when a meter cannot be read."""
    faults, metered = list[Fault](), exact(entry.pumped_gal or 0.0)
    ends: dict[str, float] = {}
    for number, meter in enumerate(entry.meters):
        start, fault = _start(meter, state.ends, f"/meters/{number}")
        ends[meter.meter] = meter.end
        if fault is None and start is not None:
            try:
                metered += exact(pumped_by_meter(start, meter.end, rolls_over_at=meter.rolls_over_at))
            except ValueError as error:
                fault = Fault(f"/meters/{number}/end", f"{meter.meter}: {error}", "decreasing")
        if fault is not None:
            faults.append(fault)
    state.ends |= ends
    net = metered - exact(entry.returned_gal)
    if not faults and net < 0:
        faults.append(
            Fault("/returned_gal", "more was poured back than the meters say was pumped", "above-maximum")
        )
    return (None, faults) if faults else (float(net), faults)


def _start(meter: MeterDay, ends: dict[str, float], place: str) -> tuple[float | None, Fault | None]:
    known = ends.get(meter.meter)
    if meter.start is None and known is None:
        return None, Fault(
            f"{place}/start",
            f"{meter.meter} has no total of the day before; state start, or enter the day before first",
            "missing",
        )
    if meter.start is not None and known is not None and exact(meter.start) != exact(known):
        return None, Fault(
            f"{place}/start",
            f"{meter.meter} starts at {meter.start:g}, but the day before ended at {known:g}; "
            "correct one of them, or give a replaced meter a new name",
            "gap",
        )
    return (meter.start if known is None else known), None


def opening_faults(links: Sequence[Link]) -> list[tuple[date, Fault]]:
    """Stated openings held against the day before, on the basis that they state, month by month.

    On either basis a month begins with the reading that closed the month before.
    """
    found = list[tuple[date, Fault]]()
    for run in _runs(links):
        bases = {link.entry.basis for link in run if link.entry.basis is not None}
        days = [link.day for link in run if link.day is not None]
        opening = run[0].opening_gal
        if len(bases) > 1:
            last = next(link for link in reversed(run) if link.entry.basis is not None)
            detail = "this month's days state their openings on both bases; keep to one, stick or book"
            found.append((last.entry.on, Fault("/opening_gal", detail, "mixed-basis")))
        elif bases and opening is not None:
            for fault in basis_faults(opening, days, bases.pop()):
                _, _, number, name = fault.pointer.split("/")
                found.append((days[int(number)].on, Fault(f"/{name}", fault.detail, fault.code)))
    return found


def _runs(links: Sequence[Link]) -> list[list[Link]]:
    """Operating days of one month without a missing or unreadable day between."""
    runs = list[list[Link]]()
    before: Link | None = None
    for link in links:
        joined = before is not None and link.entry.on == before.entry.on + DAY and link.entry.on.day != 1
        if before is None or not joined or (before.day is None and not before.entry.idle):
            runs.append([])
        runs[-1].append(link)
        before = link
    operating = [[link for link in run if link.day is not None] for run in runs]
    return [run for run in operating if run]

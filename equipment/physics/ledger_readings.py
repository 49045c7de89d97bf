"""Readings of a ledger's tanks: checked against the tank and turned from inches into gallons by its own chart."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from equipment.faults import Fault
from equipment.physics.charts import Chart, OffTheChart, chart_volume
from equipment.physics.ledger_entries import Delivery, Entry, MeterDay, Reading
from equipment.physics.volume_correction import temperature_faults

# Gallons from a chart keep a millionth, so that no binary dust decides whether a month is over its limit.
KEPT = 6


class Vessel(msgspec.Struct, frozen=True, kw_only=True):
    """A tank of the ledger, as far as it is known."""

    tag: str
    capacity_gal: float | None = None
    diameter_in: float | None = None
    chart: Chart | None = None


class _Measuring:
    """Turns readings into gallons and gathers what is wrong with them."""

    def __init__(self, vessels: Mapping[str, Vessel]) -> None:
        self.vessels = vessels
        self.only = next(iter(vessels)) if len(vessels) == 1 else None
        self.faults = list[Fault]()

    def all(self, readings: Sequence[Reading], place: str, *, whole: bool) -> tuple[Reading, ...]:
        """Each reading with its gallons; `whole`: every tank of the ledger must be among them."""
        named = [msgspec.structs.replace(one, tank=one.tank or self.only) for one in readings]
        counts = Counter(one.tank for one in named)
        for number, one in enumerate(named):
            if one.tank is None:
                self._fault(f"{place}/{number}/tank", f"say which tank: {', '.join(self.vessels)}", "missing")
            elif one.tank not in self.vessels:
                known = ", ".join(self.vessels)
                self._fault(f"{place}/{number}/tank", f"{one.tank} is not in this ledger: {known}", "unknown")
            elif counts[one.tank] > 1:
                self._fault(f"{place}/{number}/tank", f"{one.tank} is read twice; keep one", "repeated")
        lacking = [tag for tag in self.vessels if tag not in counts] if whole and None not in counts else []
        if lacking:
            self._fault(place, f"read every tank of the ledger; missing: {', '.join(lacking)}", "missing")
        return tuple(self._one(one, f"{place}/{number}") for number, one in enumerate(named))

    def _one(self, one: Reading, place: str) -> Reading:
        vessel = self.vessels.get(one.tank or "")
        if vessel is None:
            return one
        if (one.level_in is None) == (one.gal is None):
            self._fault(place, "state level_in or gal, one of them", "missing")
            return one
        found = len(self.faults)
        self.faults.extend(fault.under(place) for fault in _range_faults(one, vessel))
        if len(self.faults) > found:
            return one
        return msgspec.structs.replace(
            one,
            gal=one.gal if one.level_in is None else self._volume(vessel, one.level_in, f"{place}/level_in"),
            water_gal=self._water(vessel, one, place),
        )

    def _volume(self, vessel: Vessel, depth: float, place: str) -> float | None:
        if vessel.chart is None:
            detail = f"no chart of {vessel.tag} holds that day; put its chart on file, or send gal of product"
            self._fault(place, detail, "missing")
            return None
        try:
            return round(chart_volume(vessel.chart, depth), KEPT)
        except OffTheChart as error:
            self._fault(place, str(error), "off-the-chart")
            return None

    def _water(self, vessel: Vessel, one: Reading, place: str) -> float | None:
        """Beside gallons of product, water is noted and taken off nothing."""
        if one.water_in is None or (one.level_in is None and vessel.chart is None):
            return None
        return self._volume(vessel, one.water_in, f"{place}/water_in")

    def _fault(self, pointer: str, detail: str, code: str) -> None:
        self.faults.append(Fault(pointer, detail, code))


def measured(entry: Entry, vessels: Mapping[str, Vessel]) -> tuple[Entry, list[Fault]]:
    """The entry with every level turned into gallons, and what is wrong with the day by itself."""
    work = _Measuring(vessels)
    if entry.idle:
        return entry, list(_idle_faults(entry))
    readings = work.all(entry.readings, "/readings", whole=True)
    deliveries = tuple(
        _delivery(work, one, f"/deliveries/{number}") for number, one in enumerate(entry.deliveries)
    )
    faults = [*work.faults, *_day_faults(entry)]
    return msgspec.structs.replace(entry, readings=readings, deliveries=deliveries), faults


def _delivery(work: _Measuring, one: Delivery, place: str) -> Delivery:
    if bool(one.before) != bool(one.after):
        missing = "after" if one.before else "before"
        work.faults.append(
            Fault(f"{place}/{missing}", "a delivery is read before and after, or not at all", "missing")
        )
    if not one.before and not one.after and one.receipt_gal is None:
        work.faults.append(
            Fault(place, "state the readings before and after, or receipt_gal of the receipt", "missing")
        )
    for name, degf in (("product_degf", one.product_degf), ("tank_degf", one.tank_degf)):
        if degf is not None:
            work.faults.extend(temperature_faults(degf, f"{place}/{name}"))
    return msgspec.structs.replace(
        one,
        before=work.all(one.before, f"{place}/before", whole=bool(one.before)),
        after=work.all(one.after, f"{place}/after", whole=bool(one.after)),
    )


def _range_faults(one: Reading, vessel: Vessel) -> Iterator[Fault]:
    full = vessel.chart.full_in if vessel.chart else vessel.diameter_in
    full = vessel.diameter_in if vessel.diameter_in is not None else full
    holds = vessel.chart.capacity_gal if vessel.chart else vessel.capacity_gal
    for name, value in (("level_in", one.level_in), ("water_in", one.water_in)):
        if value is not None and full is not None and value > full:
            detail = f"{value:g} in is above the {full:g} in that {vessel.tag} measures inside; read it again"
            yield Fault(f"/{name}", detail, "above-maximum")
    if one.level_in is not None and one.water_in is not None and one.water_in > one.level_in:
        yield Fault("/water_in", "the water stands above the level; check both readings", "above-maximum")
    if one.gal is not None and holds is not None and one.gal > holds:
        detail = f"{one.gal:g} gal is more than the {holds:g} gal that {vessel.tag} holds; read it again"
        yield Fault("/gal", detail, "above-maximum")


def _day_faults(entry: Entry) -> Iterator[Fault]:
    if entry.measured_by is None:
        yield Fault("/measured_by", "say what the tank was read with: stick or gauge", "missing")
    if entry.meters and entry.pumped_gal is not None:
        yield Fault("/pumped_gal", "the meters say what was pumped; send meters or pumped_gal", "repeated")
    if not entry.meters and entry.pumped_gal is None:
        yield Fault("/meters", "state the meters' totals, or pumped_gal; zero when nobody pumped", "missing")
    counts = Counter(one.meter for one in entry.meters)
    for number, one in enumerate(entry.meters):
        if counts[one.meter] > 1:
            yield Fault(f"/meters/{number}/meter", f"{one.meter} stands twice; keep one", "repeated")
        yield from (fault.under(f"/meters/{number}") for fault in _turn_faults(one))


def _turn_faults(meter: MeterDay) -> Iterator[Fault]:
    """No total is above the one at which the meter starts again."""
    turn = meter.rolls_over_at
    for name, total in (("start", meter.start), ("end", meter.end)):
        if turn is not None and total is not None and total > turn:
            detail = f"{total:,g} is above the {turn:,g} at which {meter.meter} starts again from zero; correct one"
            yield Fault(f"/{name}", detail, "above-maximum")


def _idle_faults(entry: Entry) -> Iterator[Fault]:
    for name in (
        "readings",
        "meters",
        "deliveries",
        "opening_gal",
        "pumped_gal",
        "returned_gal",
        "refill_gal",
    ):
        if getattr(entry, name):
            yield Fault(f"/{name}", "an idle day states nothing; leave idle out", "wrong-kind")

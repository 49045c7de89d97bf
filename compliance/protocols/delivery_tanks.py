"""What stands in each tank before a delivery, and the share of capacity at which its overfill device has to act.

The limit is that of the device: 95 percent for an automatic shutoff, 90 for an alarm or a flow restrictor (40 CFR
280.20(c)(1)(ii)); a device set lower counts where it is set. Of several devices the strictest counts, and 90 percent
where nobody said what there is.
"""

from collections.abc import Iterator, Sequence

import msgspec

from compliance.protocols.delivery import Holding
from compliance.protocols.overfill import ALARM, RESTRICTOR, SHUTOFF
from compliance.protocols.setting import Setting
from equipment.faults import Fault
from equipment.physics.charts import Chart, OffTheChart, chart_volume
from equipment.physics.volume_correction import growth, temperature_faults

CRITERIA = {SHUTOFF: "overfill-shutoff", ALARM: "overfill-alert", RESTRICTOR: "overfill-alert"}
STRICTEST = "overfill-alert"
# Gallons from a chart keep a millionth, as in the ledger.
KEPT = 6


class Device(msgspec.Struct, frozen=True, kw_only=True):
    """An overfill device by the register."""

    tag: str
    type: str | None
    set_level_pct: float | None = None


class Limit(msgspec.Struct, frozen=True, kw_only=True):
    """Percent of capacity to which a tank may be filled, and why."""

    percent: float
    because: str
    sure: bool


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """One tank as read: by stick (`level_in` is the top of the liquid, water included) or as a gauge's gallons."""

    tag: str
    level_in: float | None = None
    water_in: float | None = None
    product_gal: float | None = None
    water_gal: float | None = None
    product_degf: float | None = None


class Vessel(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of the tank itself. `gravity_only`: double-walled fibreglass; None: nobody said."""

    chart: Chart | None
    plate_gal: float | None
    devices: tuple[Device, ...]
    gravity_only: bool | None


def limit_of(devices: Sequence[Device], setting: Setting) -> Limit:
    """The lowest limit of the tank's devices on that day."""
    limits = [_limit(device, setting) for device in devices]
    if not limits:
        percent = setting.numbers.number(STRICTEST).value
        because = f"no overfill device is on file: taken as {percent:g} percent, the stricter limit"
        return Limit(percent=percent, because=because, sure=False)
    return min(limits, key=lambda each: each.percent)


def _limit(device: Device, setting: Setting) -> Limit:
    known = device.type in CRITERIA
    criterion = setting.numbers.number(CRITERIA.get(device.type or "", STRICTEST))
    if device.set_level_pct is not None and 0 < device.set_level_pct < criterion.value:
        because = f"{device.tag} is set to act at {device.set_level_pct:g} percent"
        return Limit(percent=device.set_level_pct, because=because, sure=known)
    if known:
        because = f"{device.tag}, {device.type}: {criterion.value:g} percent ({criterion.cite})"
    else:
        because = f"the type of {device.tag} is not on file: taken as {criterion.value:g} percent, the stricter limit"
    return Limit(percent=criterion.value, because=because, sure=known)


def reading_faults(reading: Reading, vessel: Vessel, place: str) -> Iterator[Fault]:
    """What cannot have been read in this tank; pointers below `place`."""
    for name in ("level_in", "water_in", "product_gal", "water_gal"):
        value = getattr(reading, name)
        if value is not None and value < 0:
            yield Fault(f"{place}/{name}", "is not below zero", "below-minimum")
            return
    if (reading.level_in is None) == (reading.product_gal is None):
        yield Fault(
            f"{place}/level_in", "state level_in by stick or product_gal by gauge, one of them", "missing"
        )
        return
    if reading.water_in is not None and reading.water_gal is not None:
        yield Fault(f"{place}/water_gal", "state the water in inches or in gallons, not both", "unexpected")
        return
    if reading.level_in is not None and reading.water_gal is not None:
        yield Fault(f"{place}/water_gal", "beside a stick reading state the water in inches", "unexpected")
        return
    if reading.product_degf is not None:
        yield from temperature_faults(reading.product_degf, f"{place}/product_degf")
    yield from _inches_faults(reading, vessel.chart, place)
    yield from _gallons_faults(reading, vessel, place)


def _inches_faults(reading: Reading, chart: Chart | None, place: str) -> Iterator[Fault]:
    for name in ("level_in", "water_in"):
        depth = getattr(reading, name)
        if depth is None:
            continue
        if chart is None:
            detail = f"no chart of {reading.tag} holds on this day; state its chart first, or send gallons of a gauge"
            yield Fault(f"{place}/{name}", detail, "no-chart")
        elif depth > chart.full_in:
            detail = f"{depth:g} in is above the tank's {chart.full_in:g} in; check the reading"
            yield Fault(f"{place}/{name}", detail, "above-maximum")
    if reading.level_in is not None and (reading.water_in or 0.0) > reading.level_in:
        yield Fault(f"{place}/water_in", "the water stands below the product, not above it", "order")


def _gallons_faults(reading: Reading, vessel: Vessel, place: str) -> Iterator[Fault]:
    capacity = capacity_of(vessel)
    if capacity is None:
        detail = f"nobody said how much {reading.tag} holds; state its chart, or its capacity in the register"
        yield Fault(f"{place}/tag", detail, "no-capacity")
    elif reading.product_gal is not None and reading.product_gal + (reading.water_gal or 0.0) > capacity:
        detail = f"product and water are more than the {capacity:,.0f} gal that {reading.tag} holds"
        yield Fault(f"{place}/product_gal", detail, "above-maximum")


def capacity_of(vessel: Vessel) -> float | None:
    """Gallons by the chart, else by the name plate."""
    return vessel.plate_gal if vessel.chart is None else vessel.chart.capacity_gal


def holding_of(reading: Reading, vessel: Vessel, limit: Limit) -> Holding:
    """Gallons in the tank. Volumes of level and water are subtracted, never inches. The reading has no fault."""
    capacity = capacity_of(vessel)
    assert capacity is not None
    water = reading.water_gal or 0.0
    if reading.water_in and vessel.chart is not None:
        water = round(chart_volume(vessel.chart, reading.water_in), KEPT)
    product = reading.product_gal
    if product is None:
        if vessel.chart is None or reading.level_in is None:
            raise OffTheChart(f"{reading.tag} has no chart")
        product = round(max(0.0, chart_volume(vessel.chart, reading.level_in) - water), KEPT)
    return Holding(capacity_gal=capacity, product_gal=product, water_gal=water, limit_pct=limit.percent)


def growth_of(
    order_gal: float, load_degf: float | None, api: float | None, readings: Sequence[Reading]
) -> float | None:
    """Gallons by which the load grows (negative: shrinks) on its way to the warmest reading; None: not all is known.

    Advice only: the room is judged on gallons as delivered.
    """
    warm = [each.product_degf for each in readings if each.product_degf is not None]
    if load_degf is None or api is None or not warm:
        return None
    return growth(order_gal, api, load_degf, max(warm))

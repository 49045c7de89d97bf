"""The demo's fuel: a tank's chart, last month in its daily ledger, a check before a delivery, a look at a liquid."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from alarms.models import Alarm
from alarms.services.answering import acknowledge
from compliance.demo.building import Cast
from compliance.demo.telling import signal, tell_until
from compliance.models import BrineTriage
from compliance.protocols.brine import Interstice
from compliance.protocols.delivery_buckets import Look as BucketLook
from compliance.protocols.delivery_tanks import Reading as TankReading
from compliance.services import brine
from compliance.services.delivery_checks import Asked, state_check
from compliance.services.inventory import Month, close_month, month_of
from equipment.models import Component, Facility, Record, TankChart
from equipment.moments import Moment
from equipment.physics.geometry import Shape, tank_of
from equipment.physics.ledger_entries import Delivery, Entry, MeterDay, Reading
from equipment.physics.tank import depth_of
from equipment.services.charts import state_chart
from equipment.services.inventory import StatedDay, state_days
from equipment.vocabulary import ChartSource

SEED = 20260302
# Inside, level, flat ends: 9,996 gal, close to the plate of a nominal ten thousand.
SHAPE = Shape(diameter_in=96.0, length_in=319.0)
LOAD_GAL, LOW_GAL = 5_000.0, 2_000.0
TOO_MUCH_GAL = 9_500.0
DAY = timedelta(days=1)
ALARM_AGO = timedelta(hours=2)
# Ten mornings that grew colder, warmed and froze again; the level moves 0.754 in a kelvin, by the liquid's expansion.
DEGF = (58.0, 56.2, 54.9, 55.8, 57.1, 54.0, 52.6, 53.9, 51.2, 50.1)
IN_A_KELVIN = 0.754
STARTED_IN = 14.0


@dataclass(frozen=True)
class Fuel:
    """What the demo shows of it."""

    chart: TankChart
    month: Month
    check: Record
    triage: BrineTriage


@dataclass
class _Tank:
    """How much is really in it, and what its people read and write down."""

    random: Random
    holds: float = 6_400.0
    total: float = 412_300.0
    started: bool = field(default=False, init=False)

    def stick(self) -> Reading:
        """The level to the eighth of an inch, as a stick shows it."""
        return Reading(level_in=round(depth_of(tank_of(SHAPE), self.holds) * 8) / 8)

    def day(self, on: date, *, water: bool) -> StatedDay:
        """One day of sales, with a load before them where little is left. Water is read once a month."""
        brought = tuple(self._delivery(on))
        sold = round(self.random.uniform(90, 320), 1) if self.started else 0.0
        start = None if self.started else self.total
        self.holds, self.total, self.started = self.holds - sold, round(self.total + sold, 1), True
        level = self.stick().level_in
        entry = Entry(
            on=on,
            measured_by="stick",
            readings=(Reading(level_in=level, water_in=0.25 if water else None),),
            meters=(MeterDay(meter="dock", start=start, end=self.total),),
            deliveries=brought,
        )
        return StatedDay(entry=entry)

    def _delivery(self, on: date) -> Iterator[Delivery]:
        if self.holds >= LOW_GAL:
            return
        before = self.stick()
        self.holds += LOAD_GAL
        yield Delivery(
            before=(before,),
            after=(self.stick(),),
            receipt_gal=LOAD_GAL,
            receipt=f"B-{on:%m%d}",
            product_degf=66.0,
            tank_degf=58.0,
            api_gravity=60.0,
        )


def keep_fuel(facility: Facility, liquid_filled: Facility, cast: Cast, *, now: datetime) -> Fuel:
    """Chart, closed month and check at one marina, alarm and triage at another."""
    tank = Component.objects.get(facility=facility, tag="T1")
    chart = state_chart(
        facility=facility,
        component=tank,
        submitted_by=cast.operator,
        by="demo",
        now=now,
        source=ChartSource.COMPUTED,
        rows=None,
        shape=SHAPE,
        step_in=None,
        effective_on=None,
        note="Computed from the drawing; the maker's own sheet takes its place when it is found.",
    )
    month, level = _ledger(facility, tank, cast, now=now)
    return Fuel(
        chart=chart,
        month=month,
        check=_check(facility, level, cast, now=now),
        triage=_triage(liquid_filled, cast, now=now),
    )


def _ledger(facility: Facility, tank: Component, cast: Cast, *, now: datetime) -> tuple[Month, float]:
    """The month before this one, from the evening before it on; closed. Answers the last level too."""
    last = now.astimezone(ZoneInfo(facility.time_zone)).date().replace(day=1) - DAY
    eve = last.replace(day=1) - DAY
    really = _Tank(Random(SEED))  # noqa: S311 - believable, not secret
    days = [really.day(eve + DAY * number, water=number == 1) for number in range((last - eve).days + 1)]
    state_days(facility=facility, component=tank, submitted_by=cast.operator, by="demo", days=days, now=now)
    close_month(facility=facility, component=tank, month=last, organisation=cast.operator, by="demo", now=now)
    return month_of(facility, tank, last, now=now), days[-1].entry.readings[0].level_in or 0.0


def _check(facility: Facility, level_in: float, cast: Cast, *, now: datetime) -> Record:
    """Somebody ordered more than there is room for."""
    bucket = BucketLook(tag="SB1", undamaged=True, liquid_removed=True, fill_pipe_clear=True, cap_secure=True)
    asked = Asked(
        checked_at=Moment(instant=now - timedelta(minutes=20)),
        order_gal=TOO_MUCH_GAL,
        tanks=(TankReading(tag="T1", level_in=level_in, water_in=0.25),),
        buckets=(bucket,),
        pumped=False,
        watcher="dock lead",
    )
    return state_check(
        facility=facility, asked=asked, submitted_by=cast.contractor, by="demo", now=now
    ).record


def _triage(facility: Facility, cast: Cast, *, now: datetime) -> BrineTriage:
    """A cold week lowers the liquid between two walls until it alarms; the numbers say how much of that is the cold."""
    at = now - ALARM_AGO
    signal(facility, cast, "liquid-low", device="SN1A", condition="monitoring-liquid-low", at=at)
    alarm = Alarm.objects.filter(facility=facility).latest("pk")
    tell_until(at + timedelta(minutes=1))
    acknowledge(alarm=alarm, by="Dock desk", note="Reading the reservoir.", now=at + timedelta(minutes=9))
    readings = list(_readings(at))
    space = Interstice(gallons=100.0, free_surface_in2=12.566, mass_pct=30.0)
    stated = {
        "space": {"liquid_gal": 100, "free_surface_in2": 12.566, "mass_pct": 30},
        "readings": [
            {
                "at": each.at.isoformat(),
                "level_in": each.level_in,
                "temperature_degf": each.temperature_degf,
            }
            for each in readings
        ],
    }
    return brine.triage_alarm(
        alarm=alarm,
        look=brine.Look(space=space, readings=readings),
        stated=stated,
        by="demo",
        organisation=cast.operator,
        now=now,
    )


def _readings(until: datetime) -> Iterator[brine.Reading]:
    for number, degf in enumerate(DEGF):
        moved = (degf - DEGF[0]) * 5 / 9 * IN_A_KELVIN
        yield brine.Reading(
            at=until - DAY * (len(DEGF) - 1 - number),
            level_in=round((STARTED_IN + moved) * 8) / 8,
            temperature_degf=degf,
        )

"""Works out the room before a delivery from the tanks' own charts, and keeps check and result as one record."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
from django.db import transaction

from compliance.protocols.criteria import installed
from compliance.protocols.delivery import Fit, Holding, delivery_fit
from compliance.protocols.delivery_buckets import Look, found, lacking
from compliance.protocols.delivery_tanks import (
    STRICTEST,
    Limit,
    Reading,
    Vessel,
    growth_of,
    holding_of,
    limit_of,
    reading_faults,
)
from compliance.protocols.setting import Setting
from compliance.services.assess import moved_by
from compliance.services.delivery_sites import Site, site_of
from compliance.services.obligations import Moves
from equipment.faults import Fault, refuse
from equipment.models import Facility, Organisation, Record
from equipment.moments import Moment
from equipment.physics.volume_correction import api_at_60f, temperature_faults
from equipment.services.facts import lock_facility
from equipment.services.happenings import DELIVERY_CHECK
from equipment.services.records import Deed, record_visit

FEDERAL = "us-federal"
LARGEST_GAL = 1_000_000
API_RANGE = (0.0, 100.0)


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is asked before a delivery. `jurisdictions`: None takes the facility's; the federal text holds in any case.

    `pumped`: the load will be pumped in; None: not said. `api_read_degf`: the temperature at which a hydrometer showed
    `api_gravity`; None: it holds at 60 °F already.
    """

    checked_at: Moment
    order_gal: float
    tanks: tuple[Reading, ...]
    buckets: tuple[Look, ...] = ()
    jurisdictions: tuple[str, ...] | None = None
    load_degf: float | None = None
    api_gravity: float | None = None
    api_read_degf: float | None = None
    pumped: bool | None = None
    watcher: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class Checked:
    """The check on file, and what it moved; `moves` None: on file, but the facility could not be judged."""

    record: Record
    moves: Moves | None


def known_jurisdictions() -> tuple[str, ...]:
    """Those with a rule about room of their own."""
    return tuple(dict.fromkeys(rule.jurisdiction for rule in installed().delivery))


@transaction.atomic
def state_check(
    *, facility: Facility, asked: Asked, submitted_by: Organisation, by: str, now: datetime
) -> Checked:
    """Work the check out and put it on file, whether or not the load fits. `Invalid` points into what was sent."""
    facility = lock_facility(facility.pk)
    refuse(_faults_of_asking(facility, asked, now=now))
    day = asked.checked_at.local_day(ZoneInfo(facility.time_zone))
    setting = _setting(facility, asked, day)
    site = site_of(facility, [each.tag for each in asked.tanks], [each.tag for each in asked.buckets], day)
    refuse(site.faults)
    refuse(
        fault
        for index, (reading, vessel) in enumerate(zip(asked.tanks, site.vessels, strict=True))
        for fault in reading_faults(reading, vessel, f"/tanks/{index}")
    )
    deed = Deed(
        activity=DELIVERY_CHECK,
        performed=asked.checked_at,
        measurements=_measurements(asked, site, setting),
        note=asked.note,
    )
    records: list[Record] = []
    moves = moved_by(
        lambda: records.extend(
            record_visit(
                facility=facility, submitted_by=submitted_by, entered_by=by, deeds=[deed], now=now
            ).records
        ),
        facility,
        now=now,
    )
    return Checked(records[0], moves)


def _setting(facility: Facility, asked: Asked, day: date) -> Setting:
    stated = facility.jurisdictions if asked.jurisdictions is None else asked.jurisdictions
    setting = Setting(on=day, jurisdictions=tuple(dict.fromkeys((FEDERAL, *stated))))
    if not (setting.numbers.delivery() and setting.numbers.has(STRICTEST)):
        refuse(
            [Fault("/checked_at", "no rule about the room for a load was in force on this day", "too-early")]
        )
    return setting


def _faults_of_asking(facility: Facility, asked: Asked, *, now: datetime) -> Iterator[Fault]:
    if asked.checked_at.is_after(now, ZoneInfo(facility.time_zone)):
        yield Fault("/checked_at", "lies in the future; a check says what was read", "future")
    if not 0 < asked.order_gal <= LARGEST_GAL:
        yield Fault("/order_gal", f"an order is above zero and at most {LARGEST_GAL:,} gal", "out-of-range")
    for index, name in enumerate(asked.jurisdictions or ()):
        if name not in known_jurisdictions():
            known = ", ".join(known_jurisdictions())
            yield Fault(
                f"/jurisdictions/{index}", f"no rule of {name!r} is on file; known: {known}", "unknown"
            )
    for name in ("load_degf", "api_read_degf"):
        degf: float | None = getattr(asked, name)
        if degf is not None:
            yield from temperature_faults(degf, f"/{name}")
    low, high = API_RANGE
    if asked.api_gravity is not None and not low <= asked.api_gravity <= high:
        yield Fault("/api_gravity", f"a motor fuel lies between {low:g} and {high:g} API", "out-of-range")


def _measurements(asked: Asked, site: Site, setting: Setting) -> dict[str, Any]:
    limits = [limit_of(vessel.devices, setting) for vessel in site.vessels]
    holdings = [
        holding_of(reading, vessel, limit)
        for reading, vessel, limit in zip(asked.tanks, site.vessels, limits, strict=True)
    ]
    fit = delivery_fit(holdings, asked.order_gal, setting)
    reasons = [*fit.reasons, *site.reasons, *_pumped_reasons(asked, site)]
    short = lacking(site.buckets, asked.buckets)
    growing = growth_of(asked.order_gal, asked.load_degf, _api_at_60f(asked), asked.tanks)
    told = {
        "order_gal": asked.order_gal,
        "room_gal": fit.room_gal,
        "largest_order_gal": fit.largest_order_gal,
        "fits": fit.fits,
        "refused": bool(reasons),
        "reasons": reasons,
        "remarks": [
            *site.remarks,
            *_remarks(asked, site, limits),
            *short,
            *found(asked.buckets),
            *_advice(fit, asked, growing),
        ],
        "joined": len(asked.tanks) > 1,
        "pumped": asked.pumped,
        "watcher": asked.watcher,
        "load_degf": asked.load_degf,
        "api_gravity": asked.api_gravity,
        "api_read_degf": asked.api_read_degf,
        "growth_gal": growing,
        "spill_buckets_checked": not short,
        "tanks": _tank_rows(asked.tanks, site.vessels, holdings, limits),
        "rules": [
            {
                "cite": need.rule.cite,
                "required_gal": need.required_gal,
                "largest_order_gal": need.largest_order_gal,
                "fits": need.fits,
            }
            for need in fit.needs
        ],
        "spill_buckets": [_row(look) for look in asked.buckets],
    }
    return _stated(told)


def _api_at_60f(asked: Asked) -> float | None:
    """As stated, or from a hydrometer that was read at another temperature."""
    if asked.api_gravity is None or asked.api_read_degf is None:
        return asked.api_gravity
    return api_at_60f(asked.api_gravity, asked.api_read_degf)


def _tank_rows(
    readings: Sequence[Reading],
    vessels: Sequence[Vessel],
    holdings: Sequence[Holding],
    limits: Sequence[Limit],
) -> list[dict[str, Any]]:
    return [
        _row(reading)
        | {
            "product_gal": holding.product_gal,
            "water_gal": holding.water_gal,
            "capacity_gal": holding.capacity_gal,
            "limit_pct": limit.percent,
            "limit_because": limit.because,
            "charted": vessel.chart is not None,
        }
        | _stated({"gravity_only": vessel.gravity_only})
        for reading, vessel, holding, limit in zip(readings, vessels, holdings, limits, strict=True)
    ]


def _row(seen: Reading | Look) -> dict[str, Any]:
    told = msgspec.structs.asdict(seen)
    return _stated({"component": told.pop("tag"), **told})


def _stated(told: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in told.items() if value is not None}


def _pumped_reasons(asked: Asked, site: Site) -> list[str]:
    if not asked.pumped:
        return []
    return [
        f"{reading.tag} is double-walled fibreglass: the load runs in by gravity only and is never pumped "
        "(common practice, no source; the maker's instructions)."
        for reading, vessel in zip(asked.tanks, site.vessels, strict=True)
        if vessel.gravity_only
    ]


def _remarks(asked: Asked, site: Site, limits: Sequence[Limit]) -> Iterator[str]:
    for reading, vessel, limit in zip(asked.tanks, site.vessels, limits, strict=True):
        if not limit.sure:
            yield f"{reading.tag}: {limit.because}."
        if vessel.chart is None:
            yield f"{reading.tag}: no chart holds on this day, so its capacity is the name plate's, which may be off."
        if reading.water_in is None and reading.water_gal is None:
            yield f"{reading.tag}: no water was stated; taken as none. Bottom water takes room as well."
        if asked.pumped and vessel.gravity_only is None:
            yield f"{reading.tag}: nobody said what it is made of; never pump into double-walled fibreglass."
    if not asked.watcher:
        yield "Nobody is named who watches the transfer throughout (40 CFR 280.30(a))."


def _advice(fit: Fit, asked: Asked, growing: float | None) -> Iterator[str]:
    if growing is None:
        return
    yield (
        f"Advice: at the temperature in the tank the load comes to some {growing:+.0f} gal. The room is judged on "
        "gallons as delivered."
    )
    if fit.fits and growing > 0 and asked.order_gal + growing >= fit.room_gal:
        yield "Advice: warmed up it would fill the room that is left; order less."

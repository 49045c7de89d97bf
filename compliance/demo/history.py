"""What was done at the demo's marinas over the years: mostly right, with the slips that each site is known for.

Older rounds are there because the rules look back; the last eighteen months hold the gaps, failures and alarms.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from compliance.demo.scenario import Line, Site
from equipment.moments import Moment
from equipment.services.records import Deed

ROUND = timedelta(days=28)
ROUNDS = 67  # a little more than the five years that the rules look back
EIGHTEEN_MONTHS = timedelta(days=548)

# The numbers that a technician writes down; what they come to is worked out when they are judged.
INTERSTICE = {"method": "interstitial monitoring", "interstice_liquid": False}
GAUGE = {"method": "automatic tank gauging", "leak_rate_gph": 0.02, "threshold_gph": 0.1, "test_h": 4}
DETECTOR = {"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 6}
TIGHT_LINE = {
    "detectable_leak_gph": 0.1,
    "threshold_gph": 0.05,
    "leak_rate_gph": 0.004,
    "pressure_ratio": 1.5,
}
STILL_WATER = {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 11.0}


@dataclass(frozen=True)
class Call:
    """One visit: when, whether by the contractor, and what was done."""

    at: datetime
    by_contractor: bool
    deeds: tuple[Deed, ...]


def calls_at(site: Site, *, now: datetime, random: Random) -> list[Call]:
    """Every visit to the site up to now, oldest first."""
    zone = ZoneInfo(site.time_zone)
    today = now.astimezone(zone).date()
    calls = [*_rounds(site, today, random), *_annual(site, today), *_three_yearly(site, today)]
    dated = [
        Call(datetime.combine(day, time(hour), zone), by_contractor, tuple(deeds))
        for day, hour, by_contractor, deeds in calls
        if deeds
    ]
    return sorted((call for call in dated if call.at < now), key=lambda call: call.at)


Visit = tuple[date, int, bool, list[Deed]]


def _rounds(site: Site, today: date, random: Random) -> Iterator[Visit]:
    """The operator's own rounds, every four weeks: walkthrough and monitoring results."""
    for number in range(ROUNDS):
        day = today - timedelta(days=3) - ROUND * number
        recent = today - day < EIGHTEEN_MONTHS
        if "walkthrough skipped" in site.slips and recent and number % 7 == 2:
            continue
        late = (
            timedelta(days=random.randint(3, 6))
            if "monitoring late" in site.slips and number % 5 == 3
            else timedelta()
        )
        yield (
            day + late,
            9,
            False,
            _round(site, day + late, missing="paper missing" in site.slips and number < 3),
        )


def _round(site: Site, day: date, *, missing: bool) -> list[Deed]:
    when = Moment(day=day)
    deeds = [
        Deed(
            activity="walkthrough",
            performed=when,
            measurements={"areas": ["spill", "release detection"], "action_needed": False},
            technician="dock staff",
        )
    ]
    if missing:
        return deeds
    for number, line in enumerate(site.lines, start=1):
        found = INTERSTICE if line.double_wall else GAUGE
        deeds.append(_result("tank-monitoring-result", f"T{number}", when, found))
        if line.double_wall:
            deeds.append(_result("piping-monitoring-result", f"P{number}", when, found))
    return deeds


def _annual(site: Site, today: date) -> Iterator[Visit]:
    """The contractor's yearly visit; one site's last one is long ago."""
    ago = 400 if "detector test overdue" in site.slips else 110
    for year in range(7):
        day = today - timedelta(days=ago + 355 * year)
        yield day, 11, True, _annual_tests(site, day)
        earlier = day - timedelta(days=20)
        look = Deed(activity="walkthrough", performed=Moment(day=earlier), measurements={"areas": ["sumps"]})
        yield earlier, 10, False, [look]


def _annual_tests(site: Site, day: date) -> list[Deed]:
    when = Moment(day=day)
    console = {"alarm_ok": True, "configuration_ok": True, "battery_ok": True}
    deeds = [_result("controller-test", "MC1", when, console)]
    for number, line in enumerate(site.lines, start=1):
        sensor = {"residue": False, "float_moves": True, "alarm_ok": True, "communicates": True}
        deeds.append(_result("line-leak-detector-test", f"LLD{number}", when, DETECTOR))
        deeds.append(_result("probe-sensor-test", f"SN{number}A", when, sensor))
        if line.double_wall:
            deeds.append(_result("probe-sensor-test", f"SN{number}B", when, sensor))
        else:
            deeds.append(_result("line-tightness-test", f"P{number}", when, TIGHT_LINE))
    return deeds


def _three_yearly(site: Site, today: date) -> Iterator[Visit]:
    """Buckets, overfill devices and the sumps that take part in monitoring. Slips are those of the last turn."""
    for turn in range(3):
        day = today - timedelta(days=200 + 1070 * turn)
        when = Moment(day=day)
        slips = site.slips if turn == 0 else frozenset[str]()
        deeds = []
        for number, line in enumerate(site.lines, start=1):
            deeds.append(_bucket_test(number, when, slips))
            device = _device_numbers(line, bare=number == 1 and "device without numbers" in slips)
            deeds.append(_result("overfill-inspection", f"OV{number}", when, device))
            if line.double_wall:
                deeds.append(_result("sump-test", f"SU{number}", when, STILL_WATER))
                deeds.append(_result("sump-test", f"SU{number}D", when, STILL_WATER))
        yield day, 13, True, deeds


def _bucket_test(number: int, when: Moment, slips: frozenset[str]) -> Deed:
    """One bucket failed and was reported so; one was reported as a pass over numbers that are none."""
    bucket, outcome = STILL_WATER, "pass"
    if "bucket failed" in slips and number == 2:
        bucket, outcome = STILL_WATER | {"level_end_in": 10.25}, "fail"
    if "pass over failing numbers" in slips and number == 1:
        bucket = STILL_WATER | {"level_end_in": 10.8125}
    return _result("spill-bucket-test", f"SB{number}", when, bucket, outcome)


def _device_numbers(line: Line, *, bare: bool) -> dict[str, object]:
    """Where the device acts by the tank's chart; `bare`: the sheet says only that it works."""
    seen: dict[str, object] = {"set_at_required_level": True, "acts_at_level": True, "moves_freely": True}
    if bare:
        return seen
    share = 0.89 if line.overfill == "high-level alarm" else 0.94
    return seen | {"acts_volume_gal": round(share * line.capacity_gal), "capacity_gal": line.capacity_gal}


def _result(
    activity: str, subject: str, when: Moment, measurements: Mapping[str, object], outcome: str = "pass"
) -> Deed:
    return Deed(
        activity=activity, performed=when, subjects=(subject,), outcome=outcome, measurements=measurements
    )

"""Plays the demo's five years in order and hands back what is worth showing."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from random import Random

from alarms.models import Alarm
from compliance.demo import papers, telling
from compliance.demo.building import Cast, build_cast, build_site
from compliance.demo.fuel import Fuel, keep_fuel
from compliance.demo.history import Call, calls_at
from compliance.demo.scenario import SITES, Site
from compliance.models import Obligation, StandingWord
from compliance.services import assess
from equipment.models import Facility
from equipment.services.records import record_visit

SEED = 20260301
BEGINNING = timedelta(days=9 * 365)


@dataclass(frozen=True)
class Stage:
    """The built world, and the rows that the demo shows."""

    cast: Cast
    facilities: list[Facility]
    alarm: Alarm
    overdue: Obligation
    detector: Obligation
    fuel: Fuel


def build(*, now: datetime, progress: Callable[[str], None]) -> Stage:
    """Build everything; `progress` is told each site as it begins."""
    random = Random(SEED)  # noqa: S311 - believable, not secret
    since = now - BEGINNING
    cast = build_cast(since=since, now=now)
    telling.name_fallback_people(cast, now=since)
    facilities = []
    for site in SITES:
        progress(site.name)
        facilities.append(_play(site, cast, since=since, now=now, random=random))
    by_code = {one.code: one for one in facilities}
    progress("fuel")
    fuel = keep_fuel(by_code["OSPREY"], by_code["TERN"], cast, now=now)
    slow = next(one for one, site in zip(facilities, SITES, strict=True) if "alarm unanswered" in site.slips)
    alarm = telling.unanswered_alarm(slow, cast, now=now)
    progress("judging")
    assess.drain(clock=lambda: now)
    late = Obligation.objects.filter(standing=StandingWord.OVERDUE, rule="annual-alld-test").select_related(
        "facility"
    )
    detector = late.earliest("late_from")
    # Read again, now that judging has noted the clock that its alarm started.
    fuel.triage.alarm.refresh_from_db()
    return Stage(cast, facilities, alarm, detector, detector, fuel)


def _play(site: Site, cast: Cast, *, since: datetime, now: datetime, random: Random) -> Facility:
    facility = build_site(site, cast, since=since)
    papers.file_papers(facility, site, cast, now=now)
    papers.name_operators(facility, site, cast, now=now)
    telling.keep_call_list(facility, site, cast, now=since)
    for call in calls_at(site, now=now, random=random):
        _record(facility, cast, call)
    telling.past_alarms(facility, site, cast, now=now, random=random)
    return facility


def _record(facility: Facility, cast: Cast, call: Call) -> None:
    sender = cast.contractor if call.by_contractor else cast.operator
    # A visit is put on file the evening it was made.
    at = call.at.astimezone(UTC) + timedelta(hours=6)
    record_visit(facility=facility, submitted_by=sender, entered_by="demo", deeds=call.deeds, now=at)

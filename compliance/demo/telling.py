"""The demo's alarms: call lists, a year of answered ones, and one that nobody answers, told by a compressed clock."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

from alarms.matching import Signal
from alarms.models import Alarm, Notice
from alarms.services import telling
from alarms.services.answering import acknowledge
from alarms.services.call_lists import replace_call_list
from alarms.services.contacts import StatedContact
from alarms.services.fallback_people import replace_fallback_people
from alarms.services.intake import Report, receive_events
from alarms.services.kept_calls import StatedStep
from compliance.demo.building import Cast
from compliance.demo.scenario import CALL_LIST, FALLBACK, Site
from compliance.services import assess
from equipment.models import Facility

AT_MOST = timedelta(seconds=60)
UNANSWERED_FOR = timedelta(minutes=50)


def name_fallback_people(cast: Cast, *, now: datetime) -> None:
    """Whom the operator wants told where no call list reaches anybody."""
    people = [StatedContact(name=name, email=email, organisation=None) for name, email in FALLBACK]
    replace_fallback_people(organisation=cast.operator, version=0, people=people, by="demo", now=now)


def keep_call_list(facility: Facility, site: Site, cast: Cast, *, now: datetime) -> None:
    """Three steps: the dock desk at once, the area manager, then compliance and owner."""
    steps = [
        StatedStep(
            after_minutes=minutes,
            recipients=[
                StatedContact(name=name, email=email.format(site=site.code.lower()), organisation=None)
                for name, email in people
            ],
        )
        for minutes, people in CALL_LIST
    ]
    replace_call_list(
        facility=facility,
        version=0,
        repeat_minutes=60,
        steps=steps,
        by="demo",
        stated_by=cast.operator,
        now=now,
    )


def past_alarms(facility: Facility, site: Site, cast: Cast, *, now: datetime, random: Random) -> None:
    """Alarms of the last year and a half, each answered within the hour: a sensor without contact, a power cut."""
    for number in range(random.randint(2, 5)):
        at = now - timedelta(days=random.randint(20, 540), minutes=random.randint(0, 1439))
        condition = random.choice(["sensor-fault", "overfill-level", "power-lost"])
        device = "SN1B" if condition == "sensor-fault" else "MC1"
        signal(facility, cast, f"past-{number}", device=device, condition=condition, at=at)
        alarm = Alarm.objects.filter(facility=facility).latest("pk")
        tell_until(at + timedelta(minutes=1))
        acknowledge(alarm=alarm, by="Dock desk", note="Looked at it on site.", now=at + timedelta(minutes=12))
        end = at + timedelta(hours=3)
        signal(
            facility,
            cast,
            f"past-{number}-end",
            device=device,
            condition=condition,
            at=end,
            signal=Signal.CLEARED,
        )


def unanswered_alarm(facility: Facility, cast: Cast, *, now: datetime) -> Alarm:
    """Fuel in a sump, raised fifty minutes ago, and everybody who was told since then."""
    raised_at = now - UNANSWERED_FOR
    signal(
        facility, cast, "unanswered", device="SN2B", condition="sump-fuel", signal=Signal.RAISED, at=raised_at
    )
    # Judged first, so that the mails say which clock of the law runs until when.
    assess.drain(clock=lambda: raised_at)
    minute = raised_at
    while minute <= now:
        tell_until(minute)
        minute += timedelta(minutes=5)
    return Alarm.objects.filter(facility=facility).latest("pk")


def mails_about(alarm: Alarm) -> Iterator[Notice]:
    """What was sent, in order."""
    return iter(Notice.objects.filter(alarm=alarm).order_by("sent_at", "pk"))


def tell_until(moment: datetime) -> None:
    """As the minute task does, at a moment of our choosing."""
    telling.drain(clock=lambda: moment, at_most=AT_MOST)


def signal(
    facility: Facility,
    cast: Cast,
    name: str,
    *,
    device: str,
    condition: str,
    at: datetime,
    signal: Signal = Signal.RAISED,
) -> None:
    """One event of the site's gateway, as it would have sent it."""
    report = Report(
        source=f"gateway-{facility.code.lower()}",
        id=name,
        device=device,
        condition=condition,
        signal=signal,
        occurred_at=at,
    )
    receive_events(
        facility=facility, source_org=cast.gateways, entered_by="demo gateway", events=[report], now=at
    )

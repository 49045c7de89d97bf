"""What the dry run foretells is what happens: the real escalation, driven minute by minute, beside it.

Changes of clocks: tz database (America/New_York, 8 March 2026 07:00 UTC and 1 November 2026 06:00 UTC). Holidays: 5
U.S.C. 6103 (Independence Day 2026, a Saturday, observed on Friday the 3rd; Thanksgiving Day, 26 November).
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from alarms.hours import Calendar, Hours, Span, Weekday
from alarms.models import Alarm, Notice
from alarms.services.answering import acknowledge
from alarms.services.call_lists import replace_call_list
from alarms.services.clocks import note_clock
from alarms.services.contacts import StatedContact
from alarms.services.dry_runs import Clock, preview
from alarms.services.escalation import escalate_due
from alarms.services.kept_calls import StatedStep
from alarms.services.rotas import StatedRota, make_rota
from alarms.services.substitutions import StatedSubstitution, state_substitution
from equipment.moments import Moment
from tests import world
from tests.alarms.sites import contact, fallback, minutes, raised

NEW_YORK = ZoneInfo("America/New_York")
FEDERAL = Calendar(country="US", subdivision="NY")
OFFICE = Hours(spans=(Span(days=tuple(Weekday)[:5], begins=time(7), ends=time(17)),), closed_on=FEDERAL)
NIGHTS = Hours(spans=(Span(days=tuple(Weekday), begins=time(22), ends=time(3)),))
STARTS = [
    "2026-03-07T23:40",  # the night in which clocks go forward
    "2026-03-08T01:50",
    "2026-10-31T23:40",  # the night in which they go back
    "2026-11-01T01:10",
    "2026-07-02T16:40",  # into the observed Independence Day
    "2026-07-04T11:00",
    "2026-11-25T16:50",  # into Thanksgiving
    "2026-11-26T03:00",
    "2026-12-31T23:30",
]


@pytest.fixture
def site(own, owner):
    """An office with holidays, nights with a rota that changes at 01:30 and people away, and a fallback."""
    world.line(own)
    fallback(owner, "mia")
    rota = make_rota(
        organisation=owner,
        stated=StatedRota(
            name="nights",
            people=[contact("Rae"), contact("Sol")],
            starts_on=date(2026, 1, 1),
            turn_days=1,
            hand_over=time(1, 30),
            time_zone="America/New_York",
        ),
        by="test",
        now=world.NOW,
    )
    steps = [
        StatedStep(after_minutes=0, recipients=[contact("Ann")], hours=OFFICE),
        StatedStep(after_minutes=20, recipients=[contact("Cem")], hours=OFFICE),
        StatedStep(after_minutes=50, recipients=[contact("Bob")], rotas=[rota.pk], hours=NIGHTS),
    ]
    replace_call_list(
        facility=own, version=0, repeat_minutes=35, steps=steps, by="test", stated_by=owner, now=world.NOW
    )
    for begins in ("2026-03-08", "2026-07-04", "2026-11-01", "2026-11-26"):
        _away(owner, contact("Bob"), contact("Dee"), datetime.fromisoformat(f"{begins}T03:10-04:00"))
    return own


def _away(owner, who: StatedContact, stand_in: StatedContact, begins: datetime) -> None:
    stated = StatedSubstitution(
        away=who,
        stand_in=stand_in,
        begins=Moment(instant=begins),
        ends=Moment(instant=begins + timedelta(hours=9)),
        reason="Away.",
    )
    state_substitution(organisation=owner, stated=stated, by="test", now=begins)


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=NEW_YORK).astimezone(ZoneInfo("UTC"))


def foretold(site, start, until, clock):
    shown = preview(facility=site, raised_at=start, priority="medium", clock=clock, repeats=100)
    return {
        (one.about, one.call.number, one.call.due_at, person.name)
        for one in shown.calls
        for person in one.call.recipients
        if one.call.due_at <= until
    }


def happened(alarm: Alarm, start):
    return {
        ("clock" if ":clock:" in one.cause else "alarm", one.step, max(one.due_at, start), one.name)
        for one in Notice.objects.filter(alarm=alarm)
    }


def walk(start: datetime, until: datetime, *, every: timedelta) -> None:
    now = start
    while now <= until:
        escalate_due(now=now, limit=10)
        now += every


def next_moment() -> datetime:
    alarm = Alarm.objects.get()
    return min(at for at in (alarm.next_step_at, alarm.clock_step_at) if at is not None)


@pytest.mark.parametrize("start", STARTS)
def test_minute_by_minute_it_happens_as_the_dry_run_said(site, start):
    begin = local(start)
    end = begin + timedelta(hours=10)
    alarm = raised(site, now=begin)
    clock = Clock(begin - timedelta(hours=3), begin + timedelta(hours=7))
    note_clock(alarm_id=alarm.pk, text="Report", since=clock.since, until=clock.until, now=begin)
    said = foretold(site, begin, end, clock)

    walk(begin, end, every=minutes(1))

    assert happened(alarm, begin) == said
    assert len({row[:3] for row in said}) > 10


@pytest.mark.parametrize("start", STARTS)
def test_for_three_days_it_happens_as_the_dry_run_said(site, start):
    begin = local(start)
    end = begin + timedelta(days=2)
    alarm = raised(site, now=begin)
    said = foretold(site, begin, end, None)

    while (now := next_moment()) <= end:
        escalate_due(now=now, limit=10)

    assert happened(alarm, begin) == said
    assert {row[3] for row in said} >= {"mia", "Sol"}


def test_the_list_itself_did_pass_people_over(site):
    """Otherwise the two tests above would agree about nothing."""
    starts = [local(one) for one in ("2026-11-25T16:50", "2026-11-26T11:00")]
    shown = [
        one.call
        for at in starts
        for one in preview(facility=site, raised_at=at, priority="medium", clock=None, repeats=100).calls
    ]

    assert {over.why for call in shown for over in call.passed_over} == {"outside hours", "holiday", "away"}
    assert {call.fallback for call in shown} == {True, False}


def test_at_three_on_a_holiday_somebody_is_told_within_the_minute(site):
    begin = local("2026-11-26T03:00")
    alarm = raised(site, now=begin)
    escalate_due(now=begin, limit=10)

    assert [(one.name, one.due_at) for one in alarm.notices.all()] == [("mia", begin)]


def test_an_acknowledgement_ends_the_calls_and_not_those_of_the_clock(site):
    begin = local("2026-03-07T23:40")
    alarm = raised(site, now=begin)
    clock = Clock(begin, begin + timedelta(hours=24))
    note_clock(alarm_id=alarm.pk, text="Report", since=clock.since, until=clock.until, now=begin)
    walk(begin, begin + minutes(5), every=minutes(1))
    acknowledge(alarm=alarm, by="Rae", note=None, now=begin + minutes(5))
    walk(begin + minutes(6), begin + timedelta(hours=26), every=minutes(15))

    said = {row for row in foretold(site, begin, begin + timedelta(hours=26), clock) if row[0] == "clock"}
    told = {row for row in happened(alarm, begin) if row[0] == "clock"}
    assert told == said
    assert sorted({row[1:3] for row in told}) == [
        (part, begin + timedelta(hours=hours)) for part, hours in ((1, 12), (2, 18), (3, 24))
    ]

"""Who of a list is told, who is passed over, and that somebody always is told. All of it is our own promise."""

from datetime import UTC, datetime, time, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarms.clock_calls import Part, clock_call, clock_progress, moment_of
from alarms.escalation import PROMPT, Plan, advance, call_at, foreseen
from alarms.hours import Calendar, Hours, Span, Weekday
from alarms.reach import Grant, ListedStep, Recipient, StandIn, Why, World

# 03:00 in New York on Thanksgiving Day 2026 (5 U.S.C. 6103(a)), winter time: UTC-5.
HOLIDAY_NIGHT = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
NOON = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
OFFICE = Hours(
    spans=(Span(days=tuple(Weekday)[:5], begins=time(7), ends=time(17)),),
    closed_on=Calendar(country="US", subdivision="NY"),
    time_zone="America/New_York",
)


def person(name: str, *, hours: Hours | None = None, organisation: int = 1) -> Recipient:
    return Recipient(name=name, email=f"{name}@example.com", organisation=organisation, hours=hours)


def step(minutes: int, *people: Recipient, hours: Hours | None = None) -> ListedStep:
    return ListedStep(after_minutes=minutes, recipients=people, hours=hours)


MIA = person("mia")
WITH_MIA = World(fallback=(MIA,))


def plan(*steps: ListedStep, world: World = WITH_MIA) -> Plan:
    return Plan(steps=steps, world=world)


def made(call) -> tuple[int, list[str], bool]:
    return call.number, [one.name for one in call.recipients], call.fallback


def called(of: Plan, number: int, at: datetime) -> tuple[int, list[str], bool]:
    call = call_at(of, number, due_at=at, as_of=at)
    assert call is not None
    return made(call)


def test_whoever_is_outside_their_hours_is_passed_over_and_the_rest_are_told():
    of = plan(step(0, person("ann", hours=OFFICE), person("bob")))
    call = call_at(of, 1, due_at=HOLIDAY_NIGHT, as_of=HOLIDAY_NIGHT)

    assert made(call) == (1, ["bob"], False)
    assert [(one.recipient.name, one.why) for one in call.passed_over] == [("ann", Why.HOURS)]


def test_at_noon_of_a_holiday_the_reason_is_the_holiday():
    at = HOLIDAY_NIGHT + timedelta(hours=9)
    call = call_at(plan(step(0, person("ann", hours=OFFICE), person("bob"))), 1, due_at=at, as_of=at)

    assert [(one.why, one.note) for one in call.passed_over] == [
        (Why.HOLIDAY, "Thanksgiving Day (calendar of the person)")
    ]


def test_a_step_that_reaches_nobody_calls_the_next_at_once_and_the_rest_earlier():
    of = plan(step(0, person("ann"), hours=OFFICE), step(10, person("bob")), step(25, person("cem")))

    assert [
        (one.number, one.due_at - HOLIDAY_NIGHT) for one in foreseen(of, raised_at=HOLIDAY_NIGHT, repeats=0)
    ] == [
        (2, timedelta(0)),
        (3, timedelta(minutes=15)),
    ]


def test_nobody_reachable_at_three_in_the_night_of_a_holiday_means_the_fallback_at_once():
    of = plan(step(0, person("ann", hours=OFFICE)), step(10, person("bob"), hours=OFFICE))
    progress = advance(of, number=1, at=HOLIDAY_NIGHT, now=HOLIDAY_NIGHT)

    assert [made(one) for one in progress.due] == [(2, ["mia"], True)]
    assert [one.why for one in progress.due[0].passed_over] == [Why.HOURS, Why.HOURS]
    assert (progress.next_number, progress.next_at) == (3, HOLIDAY_NIGHT + timedelta(minutes=30))


def test_past_the_last_that_can_be_reached_the_fallback_and_the_earlier_ones_are_told():
    of = plan(step(0, person("ann")), step(10, person("bob"), hours=OFFICE))

    assert called(of, 2, HOLIDAY_NIGHT) == (2, ["ann", "mia"], True)
    assert called(of, 3, NOON) == (3, ["bob"], False)


def test_without_a_fallback_the_whole_list_is_woken():
    of = plan(step(0, person("ann", hours=OFFICE)), step(10, person("bob"), hours=OFFICE), world=World())

    assert called(of, 1, HOLIDAY_NIGHT) == (2, ["ann", "bob"], True)


def test_people_of_an_organisation_that_may_not_see_the_facility_are_never_told():
    grants = (Grant(organisation=1, starts_at=NOON, ends_at=NOON + timedelta(hours=1)),)
    of = plan(step(0, person("ann"), person("eve", organisation=2)), world=World(grants=grants))

    assert called(of, 1, NOON) == (1, ["ann"], False)
    assert call_at(of, 1, due_at=NOON, as_of=NOON + timedelta(hours=1)) is None
    assert call_at(of, 1, due_at=NOON, as_of=NOON - timedelta(seconds=1)) is None


def away(who: Recipient, stand_in: Recipient, *, hours: int = 1) -> StandIn:
    return StandIn(away=who, stand_in=stand_in, starts_at=NOON, ends_at=NOON + timedelta(hours=hours))


def test_a_stand_in_is_told_from_the_first_instant_to_before_the_last():
    world = World(stand_ins=(away(person("ann"), person("cem")),))
    of = plan(step(0, person("ann")), world=world)
    around = [NOON - timedelta(seconds=1), NOON, NOON + timedelta(minutes=59), NOON + timedelta(hours=1)]

    assert [called(of, 1, at)[1] for at in around] == [["ann"], ["cem"], ["cem"], ["ann"]]


def test_a_stand_in_may_have_a_stand_in_and_the_later_statement_counts():
    first, later = away(person("ann"), person("cem")), away(person("ann"), person("dee"))
    world = World(stand_ins=(first, later, away(person("dee"), person("eve"))))

    assert called(plan(step(0, person("ann")), world=world), 1, NOON)[1] == ["eve"]


def test_two_who_stand_in_for_each_other_are_both_away():
    ann, bob = person("ann"), person("bob")
    world = World(stand_ins=(away(ann, bob), away(bob, ann)), fallback=(MIA,))
    call = call_at(plan(step(0, ann), world=world), 1, due_at=NOON, as_of=NOON)

    assert made(call) == (1, ["mia"], True)
    assert {one.why for one in call.passed_over} == {Why.AWAY}


def test_a_late_call_goes_to_whoever_can_be_reached_when_it_is_made():
    of = plan(step(0, person("ann"), hours=OFFICE), step(500, person("bob")))
    opening = HOLIDAY_NIGHT + timedelta(hours=28)  # Friday, 07:00

    prompt = advance(of, number=1, at=opening - PROMPT, now=opening)
    late = advance(of, number=1, at=opening - PROMPT - timedelta(seconds=1), now=opening)

    assert [one.number for one in prompt.due] == [2]
    assert [one.number for one in late.due] == [1]


def test_what_is_not_urgent_is_told_once_to_the_first_who_can_be_reached():
    of = plan(
        step(0, person("ann"), hours=OFFICE), step(10, person("bob")), step(20, person("cem"))
    ).told_once()
    progress = advance(of, number=1, at=HOLIDAY_NIGHT, now=HOLIDAY_NIGHT + timedelta(hours=3))

    assert ([made(one)[:2] for one in progress.due], progress.next_at) == ([(2, ["bob"])], None)


people = st.builds(
    person,
    st.sampled_from(["ann", "bob", "cem", "dee"]),
    hours=st.sampled_from([None, OFFICE]),
    organisation=st.sampled_from([1, 1, 2]),
)
steps = st.lists(
    st.tuples(st.lists(people, min_size=1, max_size=3), st.sampled_from([None, OFFICE])),
    min_size=1,
    max_size=4,
)
worlds = st.builds(
    World,
    grants=st.just((Grant(organisation=1, starts_at=datetime(2020, 1, 1, tzinfo=UTC), ends_at=None),)),
    stand_ins=st.lists(
        st.builds(
            StandIn,
            away=people.map(lambda one: msgspec.structs.replace(one, hours=None)),
            stand_in=people,
            starts_at=st.just(datetime(2026, 11, 20, tzinfo=UTC)),
            ends_at=st.just(datetime(2026, 12, 20, tzinfo=UTC)),
        ),
        max_size=3,
    ).map(tuple),
    fallback=st.sampled_from([(), (MIA,)]),
)


@given(steps, worlds, st.integers(0, 20 * 24 * 60), st.integers(1, 8))
def test_somebody_is_told_whenever_anybody_may_be(listed, world, minutes, number):
    """The promise of the whole module: passed over never means silence."""
    of = plan(*(step(10 * n, *who, hours=hours) for n, (who, hours) in enumerate(listed)), world=world)
    at = datetime(2026, 11, 20, tzinfo=UTC) + timedelta(minutes=minutes)
    call = call_at(of, number, due_at=at, as_of=at)
    anybody = bool(world.fallback) or any(one.organisation == 1 for who, _ in listed for one in who)

    assert call is not None or not anybody
    if call is not None:
        assert call.recipients
        assert all(one.organisation == 1 for one in call.recipients)
        assert len({one.email for one in call.recipients}) == len(call.recipients)
        assert number <= call.number <= max(number, len(listed))


# The clock of 40 CFR 280.50: 24 elapsed hours from discovery, here over the change of 8 March 2026 (07:00 UTC).
SINCE = datetime(2026, 3, 7, 20, 0, tzinfo=UTC)
UNTIL = SINCE + timedelta(hours=24)


@pytest.mark.parametrize(("part", "after"), [(Part.HALF, 12), (Part.THREE_QUARTERS, 18), (Part.ALL, 24)])
def test_parts_of_a_clock_are_elapsed_hours(part, after):
    assert moment_of(part, since=SINCE, until=UNTIL) == SINCE + timedelta(hours=after)


@pytest.mark.parametrize(
    ("hours_on", "due", "coming"),
    [
        (11.99, None, Part.HALF),
        (12, Part.HALF, Part.THREE_QUARTERS),
        (17.99, Part.HALF, Part.THREE_QUARTERS),
        (18, Part.THREE_QUARTERS, Part.ALL),
        (24, Part.ALL, None),
        (99, Part.ALL, None),
    ],
)
def test_a_clock_found_late_calls_once_for_all_that_is_due(hours_on, due, coming):
    now = SINCE + timedelta(hours=hours_on)
    progress = clock_progress(since=SINCE, until=UNTIL, part=Part.HALF, now=now)

    assert (progress.due, progress.next_part) == (due, coming)


THREE = plan(step(0, person("ann")), step(10, person("bob")), step(20, person("cem"), hours=OFFICE))


@pytest.mark.parametrize(
    ("part", "told"),
    [(Part.HALF, ["ann"]), (Part.THREE_QUARTERS, ["ann", "bob"]), (Part.ALL, ["ann", "bob", "mia"])],
)
def test_each_part_of_a_clock_calls_more_people(part, told):
    call = clock_call(THREE, part, due_at=HOLIDAY_NIGHT, now=HOLIDAY_NIGHT)

    assert [one.name for one in call.recipients] == told


def test_a_clock_wakes_the_list_where_nobody_else_is_left():
    of = plan(step(0, person("ann"), hours=OFFICE), world=World())

    assert [
        [one.name for one in clock_call(of, part, due_at=HOLIDAY_NIGHT, now=HOLIDAY_NIGHT).recipients]
        for part in Part
    ] == [["ann"]] * 3


def test_a_clock_that_nobody_can_be_told_of_says_so():
    assert [clock_call(plan(world=World()), part, due_at=NOON, now=NOON) for part in Part] == [None] * 3

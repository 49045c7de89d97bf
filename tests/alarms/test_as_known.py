"""Alarms as they were known at a past instant: the same whether all is counted again or only what may differ."""

from bisect import bisect_right
from collections import defaultdict
from datetime import datetime
from random import Random

from alarms.conditions import condition_or_unlisted
from alarms.known import as_known
from alarms.lifecycle import State, Step
from alarms.matching import Key, Signal
from alarms.models import Alarm, AlarmStep, Event
from alarms.models.events import COUNTS_AT
from alarms.queries import alarms_of
from alarms.timeline import Fold, Heard
from alarms.turns import MOVES, act_of
from equipment.models import Facility
from equipment.moments import CLOCK_SKEW
from tests import world
from tests.alarms.histories import END, GRID, random_history
from tests.alarms.sites import deliver, minutes, raised, report
from tests.alarms.test_delivery_order import Gateway, live, step
from tests.world import NOW

DAY = minutes(24 * 60)
COLUMNS = (
    "pk",
    "state",
    "raised_at",
    "last_raised_at",
    "cleared_at",
    "ended_at",
    "shelved_until",
    "occurrences",
    "acknowledged_at",
    "acknowledged_by",
    "acknowledged_note",
    "merged_into_id",
    "merged_at",
)


def counted_in_full(site: Facility, known_at: datetime) -> list[tuple]:
    """The plain way: every message and step that had reached us by then, from the first one on."""
    turns, found = defaultdict(list), []
    for one in Event.objects.annotate(moment=COUNTS_AT).filter(
        MOVES, facility=site, received_at__lte=known_at
    ):
        key = Key.of(one.component_id, one.device, one.condition)
        turns[key].append(Heard(one.moment, Signal(one.signal), one.clock_doubtful, one.alarm_id or 0))
    for one in AlarmStep.objects.filter(facility=site, at__lte=known_at).select_related("alarm"):
        turns[one.alarm.key].append(act_of(one))
    alarms = defaultdict(list)
    for alarm in Alarm.objects.filter(facility=site, opened_at__lte=known_at).order_by("pk"):
        alarms[alarm.key].append(alarm)
    for key, some in alarms.items():
        found += _in_full(key, some, turns[key], known_at)
    return sorted(found)


def _in_full(key, alarms, turns, known_at):
    fold = Fold(condition_or_unlisted(key.condition).nature)
    fold.take(turns)
    fold.run_out(known_at)
    beginnings, taken = [one.raised_at for one in fold.begun], set()
    for alarm in alarms:
        raises = [
            one.at
            for one in turns
            if isinstance(one, Heard) and one.signal == "raised" and one.ref == alarm.pk
        ]
        place = bisect_right(beginnings, min(raises)) - 1 if raises else -1
        if place >= 0 and place not in taken:
            taken.add(place)
            columns = alarm.columns_of(fold.begun[place]) | {
                "pk": alarm.pk,
                "merged_into_id": None,
                "merged_at": None,
            }
            yield tuple(columns[name] for name in COLUMNS)


def known(site: Facility, known_at: datetime) -> list[tuple]:
    rows = Alarm.objects.filter(facility=site, opened_at__lte=known_at)
    return sorted(tuple(getattr(one, name) for name in COLUMNS) for one in as_known(list(rows), known_at))


def test_whatever_came_late_the_answer_is_that_of_counting_everything(owner):
    """A quarter of the devices have clocks that run ahead."""
    dice = Random(282)
    histories = {f"D{number}": random_history(dice) for number in range(150)}
    for history in list(histories.values())[::4]:
        history.signals = [
            (one.at - CLOCK_SKEW, one) if not one.doubt and at == one.at else (at, one)
            for at, one in history.signals
        ]
    site = world.facility(owner, "LATE")
    live(Gateway(site, histories), dice)
    moments = [NOW + GRID * dice.randrange(200) + dice.choice([minutes(0), minutes(-7)]) for _ in range(20)]

    assert Alarm.objects.exclude(merged_into=None).exists()
    for moment in [*moments, END]:
        assert known(site, moment) == counted_in_full(site, moment)


def test_shelving_that_nobody_has_ended_yet_is_over_all_the_same(site):
    alarm = raised(site)
    until = NOW + minutes(60)
    Alarm.objects.filter(pk=alarm.pk).update(
        state=State.SHELVED, shelved_until=until, acknowledged_at=NOW, acknowledged_by="Ann"
    )
    AlarmStep.objects.create(
        facility=site, alarm=alarm, kind=Step.SHELVE, at=NOW, through=NOW, by="Ann", note="dry", until=until
    )
    states = [alarms_of([site.pk], known_at=at)[site.pk][0].state for at in (until - minutes(1), until)]

    assert states == [State.SHELVED, State.UNACKNOWLEDGED]


def test_no_message_is_read_again_of_what_has_had_no_turn_since(owner, django_assert_num_queries):
    """The rows of the alarms, and what came late; nothing else, at how many facilities so ever."""
    sites = [world.facility(owner, f"S{number}") for number in range(3)]
    for one in sites:
        over(one, NOW)
        raised(one, "x")
    with django_assert_num_queries(2):
        found = alarms_of([one.pk for one in sites], known_at=NOW + DAY)

    assert [[one.state for one in found[site.pk]] for site in sites] == [["normal", "unacknowledged"]] * 3


def test_what_was_over_by_then_is_not_read_again_although_it_came_back_since(site, django_assert_num_queries):
    over(site, NOW)
    over(site, NOW + 9 * DAY)
    with django_assert_num_queries(2):
        [alarm] = alarms_of([site.pk], known_at=NOW + DAY)[site.pk]

    assert (alarm.state, alarm.ended_at) == ("normal", NOW + minutes(3))


def test_only_the_messages_of_what_stood_then_are_read(site, django_assert_max_num_queries):
    """The alarms, what came late, and the messages and steps of what has had a turn since."""
    over(site, NOW)
    alarm = raised(site, now=NOW + 2 * DAY)
    step(alarm, Step.ACKNOWLEDGE, NOW + 5 * DAY)
    with django_assert_max_num_queries(4):
        found = alarms_of([site.pk], known_at=NOW + 3 * DAY)[site.pk]

    assert [one.state for one in found] == ["normal", "unacknowledged"]


def over(site: Facility, at: datetime) -> None:
    """An alarm that was raised, back to normal and acknowledged within three minutes."""
    alarm = raised(site, now=at)
    deliver(site, report(signal="cleared", occurred_at=at + minutes(1)), now=at + minutes(1))
    step(alarm, Step.ACKNOWLEDGE, at + minutes(3))

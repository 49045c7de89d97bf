"""How far back a late message has all counted again: to a moment before which nothing was open, and in few steps."""

from datetime import datetime, timedelta
from random import Random

from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.lifecycle import Nature
from alarms.models import Alarm
from alarms.services.answering import acknowledge
from alarms.timeline import REJOINS_WITHIN
from alarms.timeline_rows import Spans
from tests import world
from tests.alarms.histories import GRID
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW

HOUR = minutes(60)


def step_by_step(spans: list[tuple[datetime, datetime | None]], at: datetime, nature: Nature) -> datetime:
    """The plain way: look at all of them again as long as any reaches up to the start."""
    gap = REJOINS_WITHIN if nature.comes_and_goes else timedelta(0)
    while earlier := [one for one, end in spans if one < at and (end is None or end >= at - gap)]:
        at = min(earlier)
    return at


def test_one_walk_finds_the_start_that_looking_again_and_again_finds():
    dice = Random(5)
    for _ in range(2000):
        begun = [NOW + GRID * dice.randrange(200) for _ in range(dice.randrange(12))]
        spans = [(one, one + GRID * dice.randrange(60) if dice.random() < 0.9 else None) for one in begun]
        at = NOW + GRID * dice.randrange(200)
        nature = Nature(comes_and_goes=dice.random() < 0.5)

        assert Spans(spans).start_of(at, nature) == step_by_step(spans, at, nature)


def test_a_late_message_after_many_alarms_that_touch_takes_few_queries(owner):
    """Each raise comes a little more than a day after the one before and no clear between them: it ends that alarm."""
    few, many = (queries_of_a_late_clear(world.facility(owner, f"S{days}"), days) for days in (4, 64))

    assert many - few <= 5, "twice as far each time"


def queries_of_a_late_clear(site, days: int) -> int:
    for number in range(days, 0, -1):
        at = NOW - number * 25 * HOUR
        acknowledge(alarm=raised(site, now=at), by="Ann", note=None, now=at + HOUR)
    deliver(site, report(occurred_at=NOW - 9 * HOUR), now=NOW - 9 * HOUR)
    with CaptureQueriesContext(connection) as asked:
        deliver(site, report(signal="cleared", occurred_at=NOW - 10 * HOUR), now=NOW)

    assert Alarm.objects.filter(facility=site).count() == days + 1
    assert Alarm.objects.filter(facility=site, ended_at=NOW - 10 * HOUR).exists()
    return len(asked)

"""Who raised an alarm, and when that first reached us: kept beside the messages, and the same as they say."""

from collections import defaultdict
from datetime import datetime
from importlib import import_module
from random import Random

from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from alarms.models import Alarm, AlarmSource, Event
from alarms.queries import heard_from, raised_by
from equipment.models import Facility
from tests import world
from tests.alarms.histories import GRID, random_history
from tests.alarms.sites import deliver, minutes, raised, report
from tests.alarms.test_delivery_order import Gateway, live
from tests.world import NOW


class TwoSenders(Gateway):
    """The operator's gateway and a contractor's take turns."""

    contractor = None

    def bring(self, batch: list, now: datetime) -> None:
        operator = self.site.operator
        for sender, odd in ((operator, False), (self.contractor, True)):
            self.site.operator = sender
            super().bring([(device, one) for device, one in batch if one.ref % 2 == odd], now)
        self.site.operator = operator


def read_from_messages(site: Facility, known_at: datetime | None) -> dict[int, dict[int, datetime]]:
    """The plain way: every raise that had reached us by then."""
    found: dict[int, dict[int, datetime]] = defaultdict(dict)
    raises = Event.objects.filter(facility=site, signal="raised").exclude(alarm=None).select_related("alarm")
    for one in raises.order_by("received_at"):
        if known_at is None or one.received_at <= known_at:
            merged = one.alarm.merged_at is not None and (known_at is None or one.alarm.merged_at <= known_at)
            whole = one.alarm.merged_into_id if merged else one.alarm_id
            found[whole].setdefault(one.received_from_id, one.received_at)
    return found


def test_whatever_was_merged_divided_or_moved_it_is_what_the_messages_say(owner, contractor):
    dice = Random(282)
    gateway = TwoSenders(world.facility(owner, "TWO"), {f"D{n}": random_history(dice) for n in range(120)})
    gateway.contractor = contractor
    live(gateway, dice)
    site = gateway.site

    assert Alarm.objects.exclude(merged_into=None).exists()
    for at in [None, *(NOW + GRID * dice.randrange(200) for _ in range(20))]:
        assert heard_from([site.pk], known_at=at) == read_from_messages(site, at)


def test_no_message_is_read_to_know_who_raised_an_alarm(site):
    alarm = raised(site)
    for number in range(1, 20):
        deliver(site, report(occurred_at=NOW + minutes(number)), now=NOW + minutes(number))
    with CaptureQueriesContext(connection) as asked:
        heard = heard_from([site.pk])
        mine = raised_by(site.operator, [alarm.pk])

    assert (heard, mine) == ({alarm.pk: {site.operator_id: NOW}}, {alarm.pk})
    assert not any("alarms_event" in one["sql"] for one in asked.captured_queries)


def test_what_was_on_file_before_is_filled_in_from_its_messages(site, contractor):
    alarm = raised(site)
    deliver(site, report(), now=NOW + minutes(5), by=contractor)
    deliver(site, report(signal="cleared"), now=NOW + minutes(6), by=contractor)
    before = heard_from([site.pk])
    AlarmSource.objects.all().delete()
    import_module("alarms.migrations.0023_who_raised_alarms").fill(apps, None)

    assert before == heard_from([site.pk])
    assert before == {alarm.pk: {site.operator_id: NOW, contractor.pk: NOW + minutes(5)}}

"""Several workers on the same table: threads with connections of their own, on a SQLite file or on PostgreSQL.

That row locks do nothing on SQLite, and why rows are claimed by a conditional update instead, is in DEVELOPERS.md.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier, Event
from time import sleep
from unittest.mock import patch

import pytest
from django.core import mail
from django.db import connection

from alarms.models import Alarm, Attempt, Notice
from alarms.services import escalation
from alarms.services.escalation import escalate_due
from alarms.services.sending import send_due
from alarms.tasks import tell
from equipment.models import Facility
from tests import world
from tests.alarms.sites import call_list, contact, deliver, minutes, raised, report
from tests.world import NOW

WORKERS = 4
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site() -> Facility:
    own = world.facility(world.organisation("Own Marinas"))
    call_list(own, (0, [contact("Ann")]), (10, [contact("Bob")]))
    return own


def together(work: Callable[[], int]) -> list[int]:
    """The work, done by every worker at the same moment."""
    start = Barrier(WORKERS)

    def one(_: int) -> int:
        try:
            start.wait(20)
            return work()
        finally:
            connection.close()

    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(one, range(WORKERS)))


def test_workers_that_escalate_at_once_write_each_call_once(site):
    for number in range(6):
        raised(site, f"device {number}")
    together(lambda: escalate_due(now=NOW + minutes(10), limit=100))

    assert Notice.objects.count() == 12
    assert {one.next_step for one in Alarm.objects.all()} == {3}


def test_workers_that_send_at_once_share_the_mails_and_send_each_once(site):
    call_list(site, (0, [contact(f"P{number}") for number in range(12)]))
    raised(site, "device")
    escalate_due(now=NOW, limit=100)
    shares = together(lambda: send_due(now=NOW, clock=lambda: NOW, limit=100))

    assert sum(shares) == len(mail.outbox) == Attempt.objects.count() == 12
    assert len({one.extra_headers["Message-ID"] for one in mail.outbox}) == 12


def test_workers_that_send_at_once_send_a_person_one_mail(site):
    for number in range(12):
        raised(site, f"device {number}")
    escalate_due(now=NOW, limit=100)
    together(lambda: send_due(now=NOW, clock=lambda: NOW, limit=100))

    assert len(mail.outbox) == 1
    assert Notice.objects.filter(sent_at=NOW).count() == Attempt.objects.count() == 12


def test_escalating_and_taking_in_events_do_not_lock_each_other_out(site):
    """Facility, alarm, notice: in that order. A new notice needs its facility's row, which a batch holds."""
    alarm, ready, escalating = raised(site, "x"), Event(), Event()
    plan_for = escalation.plan_for

    def slow_plan(*args, **keywords):
        escalating.set()
        sleep(0.5)
        return plan_for(*args, **keywords)

    def take_in() -> None:
        try:
            connection.ensure_connection()
            ready.set()
            escalating.wait(20)
            deliver(site, report("x", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool, patch.object(escalation, "plan_for", slow_plan):
        taken_in = pool.submit(take_in)
        ready.wait(20)
        escalate_due(now=NOW, limit=10)
        taken_in.result()

    alarm.refresh_from_db()
    assert (alarm.occurrences, alarm.next_step, alarm.untold_since) == (2, 2, None)
    assert alarm.notices.count() == 1


def test_the_task_tells_everybody_who_is_to_be_told_by_now(site):
    long_ago = NOW - timedelta(days=30)
    raised(site, "x", now=long_ago)
    tell()

    # The whole list; two calls of one person about one alarm are one mail.
    assert [one.to[0].split()[0] for one in mail.outbox] == ["Ann", "Bob"]
    assert Notice.objects.count() == 3
    assert not Notice.objects.filter(sent_at=None).exists()

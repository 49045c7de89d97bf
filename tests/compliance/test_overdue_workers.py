"""Several workers at the same morning: threads with connections of their own, on a SQLite file or on PostgreSQL."""

from datetime import timedelta

import pytest
from django.core import mail

from compliance.models import OverdueDigest, OverdueReader
from compliance.services.overdue_digest import tell_overdue
from tests import world
from tests.alarms.sites import call_list, contact
from tests.alarms.test_workers import together
from tests.compliance.test_overdue_digest import MORNING, owed


@pytest.mark.django_db(transaction=True)
def test_workers_that_decide_at_once_send_each_person_one_mail():
    owner = world.organisation("Own Marinas")
    for number in range(4):
        site = world.facility(owner, f"S{number}")
        call_list(site, (0, [contact(f"P{number}"), contact("Ann")]))
        owed(site)
    together(lambda: tell_overdue(clock=lambda: MORNING, at_most=timedelta(minutes=1)))

    assert len({one.to[0] for one in mail.outbox}) == len(mail.outbox) == 5
    assert OverdueDigest.objects.exclude(sent_at=None).count() == OverdueReader.objects.count() == 5

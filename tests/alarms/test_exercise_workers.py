"""Several workers that close one check at the same moment: threads with connections of their own."""

import pytest

from alarms.models import Alarm, AlarmStep, Disposition, Exercise, Notice
from alarms.services.exercise_closing import close_due
from equipment.models import Facility, Record
from tests import world
from tests.alarms.exercises import END, HIGH, inside, plan, signal
from tests.alarms.sites import call_list, contact
from tests.alarms.test_workers import together

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site() -> Facility:
    own = world.facility(world.organisation("Own Marinas"))
    world.line(own)
    call_list(own, (0, [contact("Ann")]))
    return own


def test_a_check_is_closed_once(site):
    plan(site)
    signal(site, "raised", inside(5))
    signal(site, "cleared", inside(9))
    signal(site, "raised", inside(30), condition=HIGH)

    assert sum(together(lambda: close_due(now=END, limit=10))) == 1
    assert Exercise.objects.get().closed_at == END
    assert (Record.objects.count(), Disposition.objects.count(), AlarmStep.objects.count()) == (1, 1, 1)
    assert [one.call_round for one in Alarm.objects.order_by("pk")] == [1, 2]
    assert Notice.objects.count() == 1

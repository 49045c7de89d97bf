"""What the database itself refuses, whoever writes."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from alarms.models import Alarm, Event, Notice
from alarms.services.escalation import escalate_due
from tests import world
from tests.alarms.sites import raised
from tests.world import NOW


@pytest.fixture
def reach(site, foreign):
    """Rows of the owner's facility, and where in the stranger's they must not point."""
    there = world.line(foreign)["SU1"]
    own, theirs = raised(site), raised(foreign)
    escalate_due(now=NOW, limit=10)
    other = Event.objects.get(alarm=theirs)
    return {
        "alarm to component": (Alarm, own.pk, {"component": there}),
        "event to component": (Event, Event.objects.get(alarm=own).pk, {"component": there}),
        "event to alarm": (Event, Event.objects.get(alarm=own).pk, {"alarm": theirs}),
        "event to event": (Event, Event.objects.get(alarm=own).pk, {"conflicts_with": other, "alarm": None}),
        "notice to alarm": (Notice, own.notices.get().pk, {"alarm": theirs}),
    }


@pytest.mark.parametrize(
    "link",
    ["alarm to component", "event to component", "event to alarm", "event to event", "notice to alarm"],
)
def test_nothing_reaches_into_another_facility(reach, link):
    model, pk, change = reach[link]

    with pytest.raises(IntegrityError, match="same_facility"), transaction.atomic():
        model.objects.filter(pk=pk).update(**change)


@pytest.mark.django_db(transaction=True)
def test_the_triggers_can_be_taken_out_and_put_back():
    MigrationExecutor(connection).migrate([("alarms", "0001_alarms")])
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())

    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'same_facility_alarms%'"
            if connection.vendor == "sqlite"
            else "SELECT count(*) FROM pg_trigger WHERE tgname LIKE 'same_facility_alarms%'"
        )
        assert cursor.fetchone()[0] == (22 if connection.vendor == "sqlite" else 11)

"""What the database itself refuses, whoever writes."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from alarms.dispositions import DispositionType
from alarms.models import Alarm, AlarmKnowledge, AlarmStep, Disposition, Event, ExerciseSensor, Notice
from alarms.services.dispositions import dispose
from alarms.services.escalation import escalate_due
from alarms.services.exercises import plan_exercise
from alarms.services.knowledge import state_knowledge
from equipment.models import Delivery, Record, Release
from tests import world
from tests.alarms.sites import minutes, raised
from tests.world import NOW, TODAY


@pytest.fixture
def reach(site, foreign):
    """Rows of the owner's facility, and where in the stranger's they must not point."""
    there = world.line(foreign)["SU1"]
    own, theirs = raised(site), raised(foreign)
    escalate_due(now=NOW, limit=10)
    other = Event.objects.get(alarm=theirs)
    answer, said = answered(own), known(own)
    deeds, driven = facts_of(foreign), planned(site)
    return {
        "alarm to component": (Alarm, own.pk, {"component": there}),
        "event to component": (Event, Event.objects.get(alarm=own).pk, {"component": there}),
        "event to alarm": (Event, Event.objects.get(alarm=own).pk, {"alarm": theirs}),
        "event to event": (Event, Event.objects.get(alarm=own).pk, {"conflicts_with": other, "alarm": None}),
        "notice to alarm": (Notice, own.notices.get().pk, {"alarm": theirs}),
        "answer to alarm": (Disposition, answer.pk, {"alarm": theirs}),
        "knowledge to alarm": (AlarmKnowledge, said.pk, {"alarm": theirs}),
        "check to component": (ExerciseSensor, driven.pk, {"component": there}),
        "alarm to check": (Alarm, theirs.pk, {"exercise": driven.exercise}),
        "check to record": (ExerciseSensor, driven.pk, {"record": deeds["record"]}),
        **{f"answer to {name}": (Disposition, answer.pk, {name: fact}) for name, fact in deeds.items()},
    }


def answered(alarm):
    return dispose(
        alarm=alarm,
        type=DispositionType.NOT_RELEASING,
        at=NOW,
        evidence={"checked_at": NOW, "finding": "rain", "repaired_at": NOW, "liquid_removed_at": NOW},
        **stated_by(alarm.facility),
    )


def known(alarm):
    return state_knowledge(alarm=alarm, stated={"no_liquid": True}, **stated_by(alarm.facility))


def planned(facility):
    exercise = plan_exercise(
        facility=facility,
        submitted_by=facility.operator,
        led_by="R. Ames",
        sensors=["SN1"],
        starts_at=None,
        ends_at=NOW + timedelta(hours=1),
        note=None,
        by="test",
        now=NOW,
    )
    return exercise.sensors.get()


def stated_by(facility):
    return {"by": "test", "organisation": facility.operator, "now": NOW}


def facts_of(facility):
    """A fact of each kind that an answer can name."""
    by = {"facility": facility, "submitted_by": facility.operator, "recorded_at": NOW}
    record = Record.objects.create(
        **by, entered_by="test", activity="inventory-month", performed_on=TODAY, content_sha256="0" * 64
    )
    return {
        "record": record,
        "second_month": record,
        "delivery": Delivery.objects.create(**by, recorded_by="test", started_on=TODAY),
        "release": Release.objects.create(**by, recorded_by="test", confirmed_on=TODAY),
    }


@pytest.mark.parametrize(
    "link",
    [
        "alarm to component",
        "event to component",
        "event to alarm",
        "event to event",
        "notice to alarm",
        "answer to alarm",
        "knowledge to alarm",
        "answer to record",
        "answer to second_month",
        "answer to delivery",
        "answer to release",
        "check to component",
        "check to record",
        "alarm to check",
    ],
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
        assert cursor.fetchone()[0] == (38 if connection.vendor == "sqlite" else 19)


@pytest.mark.django_db(transaction=True)
def test_what_was_acknowledged_before_steps_were_kept_becomes_a_step():
    """The first upgrade of a database in use: our own promise."""
    executor = MigrationExecutor(connection)
    executor.migrate([("alarms", "0013_answers_of_every_class")])
    old = executor.loader.project_state([("alarms", "0013_answers_of_every_class")]).apps.get_model(
        "alarms", "Alarm"
    )
    owner = world.organisation("Own Marinas")
    site = world.facility(owner, "OWN")
    stated = {"facility_id": site.pk, "priority": "high", "opened_at": NOW, "condition": "sump-liquid"}
    times = {"raised_at": NOW, "last_raised_at": NOW}
    by = {"acknowledged_at": NOW + minutes(2), "acknowledged_by": "Ann", "acknowledged_note": "rain"}
    over = stated | times | by | {"cleared_at": NOW + minutes(1)}
    ended = old.objects.create(state="normal", **over).pk
    waiting = old.objects.create(state="unacknowledged", **stated, **times).pk
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())

    (step,) = AlarmStep.objects.all()
    assert (step.alarm_id, step.kind, step.at, step.through, step.by, step.note) == (
        ended,
        "acknowledge",
        NOW + minutes(2),
        NOW + minutes(2),
        "Ann",
        "rain",
    )
    ends = {one.pk: (one.ended_at, one.last_turn_at, one.called_from) for one in Alarm.objects.all()}
    assert ends == {ended: (NOW + minutes(2), NOW + minutes(2), NOW), waiting: (None, NOW, NOW)}

"""Steps that people take with an alarm are kept as they were taken: our own promise."""

import pytest
from django.db import IntegrityError, transaction

from alarms.models import Alarm, AlarmStep, Notice
from alarms.services.answering import acknowledge
from alarms.services.calls import call_anew
from alarms.services.climbing import climb
from alarms.services.escalation import escalate_due
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW


def test_an_acknowledgement_is_kept_as_a_step(site):
    alarm = raised(site)
    acknowledge(alarm=alarm, by="Ann", note="on my way", now=NOW + minutes(2))
    acknowledge(alarm=alarm, by="Bob", note=None, now=NOW + minutes(3))

    (step,) = alarm.steps.all()
    assert (step.kind, step.at, step.through, step.by, step.note) == (
        "acknowledge",
        NOW + minutes(2),
        NOW + minutes(2),
        "Ann",
        "on my way",
    )


def test_whoever_answers_has_seen_what_a_fast_clock_put_ahead(site):
    intake = deliver(site, report(occurred_at=NOW + minutes(3)), now=NOW)
    alarm = Alarm.objects.get(pk=intake.opened[0])
    step = acknowledge(alarm=alarm, by="Ann", note=None, now=NOW).alarm.steps.get()

    assert (step.at, step.through) == (NOW, NOW + minutes(3))


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "raise"},
        {"kind": "shelve", "note": "nuisance"},
        {"kind": "shelve", "until": NOW + minutes(5)},
        {"until": NOW + minutes(5)},
        {"kind": "return to service"},
        {"kind": "reset"},
        {"through": NOW - minutes(1)},
    ],
    ids=str,
)
def test_the_database_refuses_a_step_that_says_too_little(site, wrong):
    alarm = raised(site)
    stated = {"kind": "acknowledge", "at": NOW, "through": NOW, "by": "Ann"} | wrong

    with pytest.raises(IntegrityError), transaction.atomic():
        AlarmStep.objects.create(facility=site, alarm=alarm, **stated)


def test_an_alarm_that_comes_back_is_called_from_the_first_step_again(site):
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    later = NOW + minutes(600)
    call_anew([alarm.pk], now=later)
    escalate_due(now=later, limit=10)

    alarm.refresh_from_db()
    calls = list(Notice.objects.order_by("pk").values_list("name", "step", "due_at", "withdrawn_at"))
    assert calls == [("Ann", 1, NOW, later), ("Ann", 1, later, None)]
    assert (alarm.next_step, alarm.next_step_at) == (2, later + minutes(10))


def test_a_refused_mail_of_an_earlier_round_brings_no_call_of_the_new_one_forward(site):
    alarm = raised(site)
    escalate_due(now=NOW, limit=10)
    old = Notice.objects.get()
    call_anew([alarm.pk], now=NOW + minutes(60))
    escalate_due(now=NOW + minutes(60), limit=10)
    alarm.refresh_from_db()
    Notice.objects.filter(pk=old.pk).update(failed_at=NOW + minutes(61))
    climb(alarm, old, now=NOW + minutes(61))

    alarm.refresh_from_db()
    assert alarm.next_step_at == NOW + minutes(70)

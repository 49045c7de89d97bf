"""What people state of an alarm besides its answer: its discovery, who knew, what the liquid was."""

import pytest

from alarms.models import Alarm, AlarmKnowledge, Exercise, Notice
from alarms.services.answering import acknowledge
from alarms.services.knowledge import withdraw_knowledge
from alarms.services.shelving import shelve, unshelve
from equipment.faults import Conflict, Invalid
from equipment.services.stating import NotYours
from tests.alarms.answers import DONE, HOUR, LATER, function_check, knowing
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW


def shelved_and_back(alarm):
    shelve(alarm=alarm, by="dock", reason="rain", until=DONE, now=NOW + minutes(1))
    unshelve(alarm=alarm, by="dock", note=None, now=NOW + minutes(2))


def failed_again(alarm):
    acknowledge(alarm=alarm, by="dock", note=None, now=NOW + minutes(1))
    for after, signal in ((2, "cleared"), (3, "raised")):
        at = NOW + minutes(after)
        deliver(alarm.facility, report("SU1", alarm.condition, signal, occurred_at=at), now=at)


def mailed(alarm, *, at, to=None):
    """A mail that a server took then; None: one that was refused."""
    failed = {"failed_at": NOW} if at is None else {}
    return Notice.objects.create(
        cause=f"alarm:{alarm.pk}",
        facility=alarm.facility,
        alarm=alarm,
        step=Notice.objects.count() + 1,
        organisation=to or alarm.facility.operator,
        name="Ann",
        email="ann@example.com",
        subject="fuel",
        message_id=f"<{Notice.objects.count()}@example.com>",
        due_at=NOW,
        created_at=NOW,
        try_at=NOW,
        sent_at=at,
        **failed,
    )


def taken_back(said):
    owner = said.facility.operator
    return withdraw_knowledge(said=said, organisation=owner, reason="wrong hour", by="R. Ames", now=LATER)


@pytest.fixture
def alarm(site):
    return raised(site, "SU1", "sump-fuel")


def test_the_discovery_is_stated_once_and_the_alarm_shows_it(alarm):
    knowing(alarm, discovered_at=DONE)
    knowing(alarm, discovered_at=DONE)

    with pytest.raises(Conflict, match="stated once"):
        knowing(alarm, discovered_at=DONE + minutes(1))

    alarm.refresh_from_db()
    assert alarm.discovered_at == DONE


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        ({}, {"": "missing"}),
        ({"party": "operator"}, {"/at": "missing"}),
        ({"at": DONE}, {"/party": "missing"}),
        ({"discovered_at": NOW - minutes(1)}, {"/discovered_at": "order"}),
        ({"party": "operator", "at": NOW - minutes(1)}, {"/at": "order"}),
        ({"discovered_at": LATER + HOUR}, {"/discovered_at": "future"}),
    ],
)
def test_knowledge_that_cannot_be_is_refused(alarm, stated, fault):
    with pytest.raises(Invalid) as caught:
        knowing(alarm, **stated)

    assert {one.pointer: one.code for one in caught.value.faults} == fault
    assert not AlarmKnowledge.objects.exists()


def test_whoever_answered_a_call_had_discovered_the_alarm(alarm):
    """40 CFR 280.50: the clock starts at discovery; nobody answers what nobody has discovered."""
    acknowledge(alarm=alarm, by="dock", note=None, now=DONE)

    with pytest.raises(Invalid) as caught:
        knowing(alarm, discovered_at=DONE + minutes(1))

    assert [fault.pointer for fault in caught.value.faults] == ["/discovered_at"]


def test_a_party_may_turn_out_to_have_known_earlier_but_never_later(alarm):
    knowing(alarm, party="contractor", at=DONE)
    knowing(alarm, party="contractor", at=DONE - minutes(5))

    with pytest.raises(Conflict, match="nobody comes to know later"):
        knowing(alarm, party="contractor", at=DONE)


@pytest.mark.parametrize(
    ("condition", "came_back"), [("sump-liquid", shelved_and_back), ("line-test-fail", failed_again)]
)
def test_an_answer_that_holds_no_longer_shows_all_the_same_that_the_operator_knew(site, condition, came_back):
    """40 CFR 280.50: within 24 hours of discovery."""
    alarm = raised(site, "SU1", condition)
    came_back(alarm)
    alarm.refresh_from_db()
    assert (alarm.state, alarm.acknowledged_at) == ("unacknowledged", None)

    with pytest.raises(Invalid) as caught:
        knowing(alarm, discovered_at=DONE)

    assert "answered: 2026-03-04T15:01" in caught.value.faults[0].detail


def test_an_answer_to_a_part_counts_for_the_whole(site, alarm):
    part = raised(site, "T1", "sump-fuel")
    acknowledge(alarm=part, by="dock", note=None, now=NOW + minutes(1))
    Alarm.objects.filter(pk=part.pk).update(
        state="normal", cleared_at=NOW, ended_at=None, merged_into=alarm, merged_at=NOW
    )

    with pytest.raises(Invalid):
        knowing(alarm, discovered_at=DONE)


def test_whoever_was_mailed_had_the_alarm_before_them(alarm):
    """40 CFR 280.50; that a mail which the operator's server took tells the operator is our reading."""
    mailed(alarm, at=DONE)

    with pytest.raises(Invalid) as caught:
        knowing(alarm, discovered_at=DONE + minutes(1))

    assert "mailed to the operator" in caught.value.faults[0].detail
    assert knowing(alarm, discovered_at=DONE).discovered_at == DONE


def test_a_mail_to_the_contractor_or_one_that_was_refused_tells_the_operator_nothing(alarm, contractor):
    mailed(alarm, at=DONE, to=contractor)
    mailed(alarm, at=None)

    assert knowing(alarm, discovered_at=DONE + minutes(1)).pk


def test_a_mail_that_called_it_an_exercise_is_no_discovery_of_what_stood_on(alarm):
    mailed(alarm, at=NOW + minutes(1))
    function_check(alarm)
    Alarm.objects.filter(pk=alarm.pk).update(exercise=Exercise.objects.get(), stood_on_at=DONE)

    assert knowing(alarm, discovered_at=DONE + minutes(1)).pk


@pytest.mark.parametrize(
    ("stated", "pointer"),
    [({"discovered_at": DONE}, "/discovered_at"), ({"party": "operator", "at": DONE}, "/party")],
)
def test_only_the_operator_says_when_the_operator_knew(alarm, contractor, stated, pointer):
    """40 CFR 280.50: discovery by owners and operators, whose clock it is."""
    with pytest.raises(NotYours) as caught:
        knowing(alarm, by=contractor, **stated)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
    assert not AlarmKnowledge.objects.exists()


def test_the_contractor_says_when_it_knew_itself_and_what_the_liquid_was(alarm, contractor):
    said = knowing(alarm, by=contractor, party="contractor", at=DONE, liquid_is_method=True)

    assert (said.party, said.submitted_by) == ("contractor", contractor)


def test_a_slip_in_a_party_is_not_another_party(alarm, contractor):
    with pytest.raises(Invalid) as caught:
        knowing(alarm, by=contractor, party="Operator", at=DONE)

    assert [(fault.pointer, fault.code) for fault in caught.value.faults] == [("/party", "near-miss")]


def test_a_discovery_that_was_taken_back_is_stated_anew_and_shows(alarm):
    first = knowing(alarm, discovered_at=DONE)

    taken_back(first)
    alarm.refresh_from_db()
    assert alarm.discovered_at is None

    knowing(alarm, discovered_at=DONE - minutes(5))
    alarm.refresh_from_db()
    assert alarm.discovered_at == DONE - minutes(5)


def test_of_two_statements_of_a_discovery_the_other_stands_when_one_is_taken_back(alarm):
    first = knowing(alarm, discovered_at=DONE)
    knowing(alarm, discovered_at=DONE)

    taken_back(first)

    alarm.refresh_from_db()
    assert alarm.discovered_at == DONE


def test_a_party_that_took_its_moment_back_states_it_anew(alarm):
    said = knowing(alarm, party="contractor", at=DONE)
    taken_back(said)

    assert knowing(alarm, party="contractor", at=DONE + minutes(1)).pk

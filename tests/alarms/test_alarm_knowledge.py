"""What people state of an alarm besides its answer: its discovery, who knew, what the liquid was."""

import pytest

from alarms.models import AlarmKnowledge
from alarms.services.answering import acknowledge
from equipment.faults import Conflict, Invalid
from tests.alarms.answers import DONE, HOUR, LATER, knowing
from tests.alarms.sites import minutes, raised
from tests.world import NOW


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

"""Which alarms a function check may claim, who is told of them, and that nobody can keep one quiet with it."""

from datetime import timedelta

import pytest
import time_machine
from django.core import mail

from alarms.conditions import ConditionClass
from alarms.delivery import NEVER, Answer
from alarms.models import Alarm, Notice
from alarms.services.answering import acknowledge
from alarms.services.exercises import end_exercise, withdraw_exercise
from alarms.services.links import link_to_answer
from alarms.services.settling import settle_never
from equipment.faults import Conflict
from tests import world
from tests.alarms.exercises import END, HIGH, HOUR, LOW, START, inside, plan, signal, tell, told
from tests.alarms.sites import deliver, fallback, minutes, report
from tests.world import NOW

SECOND = timedelta(seconds=1)


@pytest.fixture
def check(site):
    return plan(site)


def only() -> Alarm:
    return Alarm.objects.select_related("exercise", "component", "facility").get()


@pytest.mark.parametrize("condition", [LOW, HIGH, "sump-fuel", "sump-liquid", "piping-interstice-liquid"])
def test_what_a_driven_sensor_raises_in_the_window_is_an_exercise(site, check, condition):
    signal(site, "raised", inside(5), condition=condition)

    assert only().exercise == check
    assert only().is_exercise


@pytest.mark.parametrize(
    ("condition", "why"),
    [
        ("product-found-outside", ConditionClass.RELEASED_PRODUCT),
        ("sensor-fault", ConditionClass.EQUIPMENT_FAULT),
        ("overfill-level", ConditionClass.OPERATING),
        ("word-of-its-own", None),
    ],
)
def test_what_a_check_does_not_raise_is_real_also_at_its_sensor(site, check, condition, why):
    """40 CFR 280.50(a): product found outside has no exception; the other three are common practice, no source."""
    signal(site, "raised", inside(5), condition=condition)

    assert (only().condition_class, only().exercise) == (why, None)


@pytest.mark.parametrize("device", ["SN2", "SU1", "T1", "somewhere", ""])
def test_other_places_are_real(site, check, device):
    world.component(site, "sensor", "SN2", parent="SU1", used_for_release_detection=True)
    signal(site, "raised", inside(5), device=device)

    assert only().exercise is None


@pytest.mark.parametrize(
    ("occurred_at", "received_at"),
    [
        (START - SECOND, START - SECOND),
        (START - SECOND, START + SECOND),
        (START + SECOND, START - SECOND),
        (END, END),
        (END + SECOND, END + SECOND),
        (inside(5), END + SECOND),
    ],
)
def test_what_was_raised_or_received_outside_the_window_is_real(site, check, occurred_at, received_at):
    signal(site, "raised", occurred_at, received_at=received_at)

    assert only().exercise is None


def test_a_clock_in_doubt_counts_at_the_receipt(site, check):
    signal(site, "raised", NOW - timedelta(days=400), received_at=inside(5))

    assert only().is_exercise


def test_a_sensor_in_alarm_when_the_window_begins_stays_real(site, check):
    signal(site, "raised", START - SECOND)
    signal(site, "raised", inside(5))
    tell(inside(20))

    assert only().exercise is None
    assert [name for name, _, _ in told()] == ["Ann", "Bob"]


def test_it_stays_real_where_its_clear_was_lost_and_it_is_raised_anew(site):
    signal(site, "raised", NOW)
    acknowledge(alarm=only(), by="Ann", note=None, now=NOW + SECOND)
    plan(site, starts_at=NOW + 30 * HOUR, ends_at=NOW + 31 * HOUR)
    signal(site, "raised", NOW + 30.5 * HOUR)

    assert [one.exercise for one in Alarm.objects.order_by("pk")] == [None, None]


def test_one_that_was_over_before_the_window_does_not_stand_in_the_way(site, check):
    signal(site, "raised", NOW)
    acknowledge(alarm=only(), by="Ann", note=None, now=NOW + SECOND)
    signal(site, "cleared", NOW + minutes(1))
    signal(site, "raised", inside(5))

    assert [one.exercise for one in Alarm.objects.order_by("pk")] == [None, check]


def test_a_plan_cannot_claim_an_alarm_that_was_raised_a_second_before(site):
    signal(site, "raised", NOW - SECOND)
    plan(site, starts_at=NOW)

    assert only().exercise is None


def test_a_withdrawn_check_claims_nothing(site, check):
    withdraw_exercise(exercise=check, organisation=site.operator, reason="Rain.", by="office", now=NOW)
    signal(site, "raised", inside(5))

    assert only().exercise is None


def test_a_check_that_was_ended_claims_nothing_more(site, check):
    end_exercise(exercise=check, by="office", now=inside(4))
    signal(site, "raised", inside(5))

    assert only().exercise is None


def test_whoever_was_shown_the_door_since_the_plan_claims_nothing(site, contractor):
    plan(site, by=contractor)
    contractor.grants.update(ends_at=START)
    signal(site, "raised", inside(5))

    assert only().exercise is None


def test_a_check_of_another_facility_claims_nothing_here(site, foreign):
    world.line(foreign)
    plan(foreign)
    signal(site, "raised", inside(5))

    assert only().exercise is None


@pytest.mark.parametrize("condition", [LOW, "sump-fuel"])
def test_the_first_people_are_told_once_marked_as_an_exercise_and_nobody_else(site, check, condition):
    signal(site, "raised", inside(5), condition=condition)
    for minute in (5, 16, 40, 100):
        tell(inside(minute))

    [(name, step, subject)] = told()
    assert (name, step, subject.split()[0]) == ("Ann", 1, "EXERCISE.")
    [sent] = mail.outbox
    for text in (sent.body, sent.alternatives[0].content):
        assert "EXERCISE." in text
        assert "function check led by R. Ames" in text
        assert "13:00 EST" in text
        assert "treat it as real" in text


def test_a_shared_mail_says_of_each_alarm_whether_it_is_an_exercise(site, check):
    signal(site, "raised", inside(5))
    signal(site, "raised", inside(5), device="SU1", condition="sump-fuel")
    tell(inside(5))

    [sent] = mail.outbox
    for text in (sent.body, sent.alternatives[0].content):
        assert text.count("EXERCISE.") == text.count("function check led by R. Ames") == 1


def test_if_the_first_people_cannot_be_told_the_operators_fallback_people_are(site, check, owner):
    fallback(owner, "manager")
    signal(site, "raised", inside(5))
    tell(inside(5))
    notice = Notice.objects.get()
    Notice.objects.filter(pk=notice.pk).update(sent_at=None)
    settle_never(notice, Answer(NEVER, "550", "no such user"), now=inside(6))

    assert [(name, subject.split()[0]) for name, _, subject in told()] == [
        ("Ann", "EXERCISE."),
        ("manager", "EXERCISE."),
    ]


def test_nobody_acknowledges_it_away_while_the_window_is_open(site, check, owner_client):
    signal(site, "raised", inside(5))
    with pytest.raises(Conflict, match="end the check first"):
        acknowledge(alarm=only(), by="R. Ames", note=None, now=inside(6))

    assert only().state == "unacknowledged"


@pytest.mark.parametrize("quiet", ["shelving", "out-of-service"])
def test_nobody_keeps_it_quiet_in_another_way_either(site, check, owner_client, quiet):
    signal(site, "raised", inside(5))
    body = {"reason": "It is only the check."}
    if quiet == "shelving":
        body["until"] = (inside(5) + HOUR).isoformat()
    with time_machine.travel(inside(6), tick=False):
        answer = owner_client.post(f"/api/v1/alarms/{only().pk}/{quiet}", body, format="json")

    assert (answer.status_code, answer.json()["function_check"]) == (409, check.pk)
    assert only().state == "unacknowledged"


def test_the_page_behind_the_mail_says_so_and_has_no_button(site, check, client):
    signal(site, "raised", inside(5))
    tell(inside(5))
    address = link_to_answer(Notice.objects.get().pk).split("localhost", 1)[1]

    shown = client.get(address)
    pressed = client.post(address, {"note": "all good"})

    assert "EXERCISE." in shown.content.decode()
    assert "<button" not in shown.content.decode()
    assert pressed.status_code == 403
    assert only().acknowledged_at is None


def test_a_message_that_came_late_shows_that_it_stood_before_and_it_is_real_at_once(site, check):
    signal(site, "raised", inside(5))
    tell(inside(5))
    signal(site, "raised", START - minutes(10), received_at=inside(30))
    tell(inside(30))
    tell(inside(41))

    assert (only().is_exercise, only().stood_on_at) == (False, inside(30))
    assert [(name, subject.split(".")[0]) for name, _, subject in told()] == [
        ("Ann", "EXERCISE"),
        ("Ann", "NO EXERCISE"),
        ("Bob", "NO EXERCISE"),
    ]


def test_a_batch_is_marked_alarm_by_alarm(site, check):
    deliver(
        site,
        report("SN1", LOW, occurred_at=inside(5)),
        report("SN1", LOW, "cleared", occurred_at=inside(6)),
        report("SU1", "sump-fuel", occurred_at=inside(5)),
        now=inside(7),
    )

    assert {one.place: one.is_exercise for one in Alarm.objects.all()} == {"SN1": True, "SU1": False}

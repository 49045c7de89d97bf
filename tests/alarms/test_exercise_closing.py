"""What becomes of a function check at its end: evidence, a defect, or a real alarm that people are called about."""

from unittest.mock import patch

import pytest
from django.core import mail

from alarms.models import Alarm, AlarmStep, Disposition, Exercise
from alarms.queries import oldest_waiting_notice
from alarms.services import exercise_closing
from alarms.services.answering import acknowledge
from alarms.services.escalation import LOOK_AGAIN
from alarms.services.exercises import end_exercise
from equipment.models import Record
from tests import world
from tests.alarms.exercises import END, HIGH, HOUR, LOW, inside, plan, signal, tell, told
from tests.alarms.sites import call_list, contact, deliver, minutes, report
from tests.world import NOW

LATER = END + minutes(10)


@pytest.fixture
def check(site):
    return plan(site)


def only() -> Alarm:
    return Alarm.objects.get()


def outcomes(check: Exercise) -> dict[str, str | None]:
    return {one.component.tag: one.outcome for one in check.sensors.select_related("component")}


def standing_records() -> list[tuple[str, str]]:
    """Subject and outcome of what stands, neither withdrawn nor superseded."""
    rows = Record.objects.filter(activity="sensor-function-check", withdrawn_at=None, superseded_by=None)
    return sorted((row.subjects.get().tag, row.outcome) for row in rows)


def drive(site, *, device: str = "SN1", at: float = 5, **stated) -> None:
    """Into alarm and, four minutes later, back."""
    signal(site, "raised", inside(at), device=device, **stated)
    signal(site, "cleared", inside(at + 4), device=device, **stated)


def test_a_sensor_that_responded_has_its_record(site, check):
    drive(site)
    tell(END)

    [row] = Record.objects.filter(activity="sensor-function-check")
    assert (row.outcome, row.technician, row.performer) == ("pass", "R. Ames", "Own Marinas")
    assert row.performed_at == inside(9)
    assert row.measurements == {
        "responded": True,
        "returned": True,
        "condition": LOW,
        "raised_at": inside(5).isoformat(),
        "cleared_at": inside(9).isoformat(),
    }
    assert outcomes(check) == {"SN1": "responded"}


def test_its_alarm_is_disposed_of_with_that_record_and_acknowledged_by_whoever_led(site, check):
    """The paragraph is 40 CFR 280.50(c)(4), as `alarms.dispositions` reads it."""
    drive(site)
    tell(END)

    answer, alarm = Disposition.objects.get(), only()
    assert (answer.type, answer.record.outcome, answer.at) == ("exercise", "pass", END)
    assert (alarm.state, alarm.acknowledged_by, alarm.acknowledged_at) == ("normal", "R. Ames", inside(9))
    assert (alarm.is_exercise, alarm.next_step_at) == (True, None)
    assert AlarmStep.objects.get().through == inside(9)


def test_a_sensor_that_did_not_respond_has_failed(site, check):
    tell(END)

    [row] = Record.objects.filter(activity="sensor-function-check")
    assert (row.outcome, row.performed_at) == ("fail", END)
    assert row.measurements == {"responded": False, "action_needed": True}
    assert outcomes(check) == {"SN1": "did not respond"}
    assert not Alarm.objects.exists()


def test_an_alarm_that_stands_at_the_end_is_real_and_called_from_the_first_step_on(site, check):
    signal(site, "raised", inside(5))
    for moment in (inside(5), END - minutes(1), END, LATER):
        tell(moment)

    alarm = only()
    assert (alarm.is_exercise, alarm.stood_on_at, alarm.state) == (False, END, "unacknowledged")
    assert [(name, step, subject.split(".")[0]) for name, step, subject in told()] == [
        ("Ann", 1, "EXERCISE"),
        ("Ann", 1, "NO EXERCISE"),
        ("Bob", 2, "NO EXERCISE"),
    ]
    assert "Treat it as real." in mail.outbox[-1].body
    assert not Disposition.objects.exists()
    assert standing_records() == []
    assert outcomes(check) == {"SN1": "in alarm at the end"}


def test_raised_back_and_raised_again_it_is_real_though_the_sensor_works(site, check):
    drive(site)
    signal(site, "raised", inside(60))
    tell(END)

    assert only().stood_on_at == END
    assert not Disposition.objects.exists()
    assert (outcomes(check), standing_records()) == ({"SN1": "responded"}, [("SN1", "pass")])


def test_raised_again_after_the_end_before_anybody_looked_it_is_real(site, check):
    drive(site)
    signal(site, "raised", END + minutes(1))
    tell(LATER)

    assert (only().stood_on_at, only().state) == (LATER, "unacknowledged")
    assert standing_records() == [("SN1", "pass")]


def test_an_alarm_that_goes_after_the_end_was_real(site, check):
    signal(site, "raised", inside(5))
    signal(site, "cleared", END)
    tell(LATER)

    assert (only().stood_on_at, only().state) == (LATER, "returned-unacknowledged")
    assert outcomes(check) == {"SN1": "in alarm at the end"}


def test_a_sensor_that_stood_before_shows_nothing(site, check):
    signal(site, "raised", NOW)
    signal(site, "cleared", inside(20))
    tell(END)

    assert (outcomes(check), standing_records()) == ({"SN1": "in alarm before it began"}, [])
    assert only().exercise is None


def test_each_sensor_has_an_outcome_of_its_own(site):
    world.component(site, "sensor", "SN2", parent="SU1", used_for_release_detection=True)
    world.component(site, "sensor", "SN3", parent="SU1", used_for_release_detection=True)
    check = plan(site, "SN1", "SN2", "SN3")
    drive(site)
    signal(site, "raised", inside(30), device="SN2", condition=HIGH)
    tell(END)

    assert outcomes(check) == {
        "SN1": "responded",
        "SN2": "in alarm at the end",
        "SN3": "did not respond",
    }
    assert standing_records() == [("SN1", "pass"), ("SN3", "fail")]


def test_low_and_high_are_two_alarms_of_one_check(site, check):
    drive(site)
    drive(site, at=20, condition=HIGH)
    tell(END)

    assert [one.state for one in Alarm.objects.all()] == ["normal", "normal"]
    assert Disposition.objects.count() == 2
    assert standing_records() == [("SN1", "pass")]


def test_one_that_was_over_before_the_first_peoples_minute_is_told_all_the_same(site):
    call_list(site, (30, [contact("Ann")]))
    plan(site)
    drive(site, at=110)
    tell(END)

    [(name, step, subject)] = told()
    assert (name, step, subject.split(".")[0]) == ("Ann", 1, "EXERCISE")
    assert len(mail.outbox) == 1


def test_a_mail_that_could_not_go_out_before_the_end_goes_out_after_it(site, check):
    with patch("alarms.services.telling.send_due", return_value=0):
        drive(site)
        tell(inside(10))
        tell(END)
    tell(LATER)

    assert only().state == "normal"
    [sent] = mail.outbox
    assert sent.subject.startswith("EXERCISE.")


def test_ended_early_it_is_closed_at_once(site, check):
    signal(site, "raised", inside(5))
    end_exercise(exercise=check, by="office", now=inside(6))
    tell(inside(6))

    assert only().stood_on_at == inside(6)
    assert [subject.split(".")[0] for _, _, subject in told()][-1] == "NO EXERCISE"


def test_closing_twice_changes_nothing(site, check):
    drive(site)
    for _ in range(3):
        tell(END)
    tell(LATER)

    assert (Record.objects.count(), Disposition.objects.count(), AlarmStep.objects.count()) == (1, 1, 1)


def test_before_its_end_nothing_is_closed(site, check):
    drive(site)
    tell(END - minutes(1))

    assert Exercise.objects.get().closed_at is None
    assert not Record.objects.exists()


def test_real_alarms_are_told_before_the_check_that_cannot_be_closed(site, check, caplog):
    """What goes wrong with the evidence never keeps an alarm quiet."""
    drive(site)
    signal(site, "raised", inside(30), condition=HIGH)
    with patch.object(exercise_closing, "file_record", side_effect=RuntimeError("disk full")):
        tell(END)
        tell(LATER)

    assert [one.stood_on_at for one in Alarm.objects.all()] == [END, END]
    assert Exercise.objects.get().closed_at is None
    assert "could not close function check" in caplog.text
    assert oldest_waiting_notice(LATER) == END
    assert {name for name, _, subject in told() if subject.startswith("NO")} == {"Ann", "Bob"}

    tell(LATER + LOOK_AGAIN)
    assert Exercise.objects.get().closed_at == LATER + LOOK_AGAIN
    assert standing_records() == [("SN1", "pass")]
    assert not Disposition.objects.exists()


def test_whoever_was_shown_the_door_inside_the_window_states_nothing(site, contractor):
    check = plan(site, by=contractor)
    drive(site)
    contractor.grants.update(ends_at=inside(60))
    tell(END)

    assert (outcomes(check), standing_records()) == ({"SN1": None}, [])
    assert only().stood_on_at == END


def test_what_somebody_has_said_of_an_alarm_is_not_replaced(site, check):
    signal(site, "raised", inside(5), condition="sump-fuel")
    alarm = only()
    Disposition.objects.create(
        facility=site,
        submitted_by=site.operator,
        recorded_at=inside(8),
        recorded_by="dock",
        alarm=alarm,
        type="contained",
        at=inside(8),
        repaired_at=inside(8),
        liquid_removed_at=inside(8),
    )
    signal(site, "cleared", inside(9), condition="sump-fuel")
    tell(END)

    assert [one.type for one in Disposition.objects.all()] == ["contained"]
    assert only().stood_on_at == END


# --- messages that come after the end: common practice, no source -------------------------------------------------


def test_a_gateway_that_was_offline_corrects_the_fail(site, check):
    tell(END)
    deliver(
        site,
        report("SN1", LOW, occurred_at=inside(5)),
        report("SN1", LOW, "cleared", occurred_at=inside(9)),
        now=END + 47 * HOUR,
    )
    tell(END + 47 * HOUR)

    failed, passed = Record.objects.order_by("pk")
    assert (failed.outcome, passed.outcome, passed.supersedes) == ("fail", "pass", failed)
    assert outcomes(check) == {"SN1": "responded"}
    assert (only().state, only().is_exercise) == ("normal", True)
    assert Disposition.objects.get().record == passed
    assert [subject.split(".")[0] for _, _, subject in told()] == ["EXERCISE"]


def test_after_two_days_the_fail_stands_and_the_alarm_is_real(site, check):
    tell(END)
    now = END + 48 * HOUR + minutes(1)
    deliver(
        site,
        report("SN1", LOW, occurred_at=inside(5)),
        report("SN1", LOW, "cleared", occurred_at=inside(9)),
        now=now,
    )
    tell(now)

    assert standing_records() == [("SN1", "fail")]
    assert only().exercise is None
    assert not told()[0][2].startswith("EXERCISE")


def test_what_comes_late_one_by_one_is_evidence_but_its_alarm_was_told_as_real(site, check):
    tell(END)
    signal(site, "raised", inside(5), received_at=END + HOUR)
    tell(END + HOUR)
    signal(site, "cleared", inside(9), received_at=END + 2 * HOUR)
    tell(END + 2 * HOUR)

    assert standing_records() == [("SN1", "pass")]
    assert (only().exercise, only().state) == (None, "returned-unacknowledged")
    assert not Disposition.objects.exists()


def test_a_clear_that_comes_late_makes_the_evidence_but_the_alarm_stays_with_people(site, check):
    signal(site, "raised", inside(5))
    tell(END)
    signal(site, "cleared", inside(9), received_at=LATER)
    tell(LATER)

    assert (outcomes(check), standing_records()) == ({"SN1": "responded"}, [("SN1", "pass")])
    assert (only().stood_on_at, only().state) == (END, "returned-unacknowledged")


def test_a_beginning_that_turns_out_earlier_takes_everything_back(site, check):
    drive(site)
    tell(END)
    signal(site, "raised", NOW, received_at=LATER)
    tell(LATER)

    first = Alarm.objects.order_by("pk").first()
    assert (outcomes(check), standing_records()) == ({"SN1": "in alarm before it began"}, [])
    assert Disposition.objects.get().withdrawn_reason == exercise_closing.NO_EXERCISE
    assert first.stood_on_at == LATER
    assert "NO EXERCISE" in {subject.split(".")[0] for _, _, subject in told()}


def test_a_raise_of_inside_that_comes_after_the_end_is_news(site, check):
    """The acknowledgement counts at the return to normal, so it does not answer what was raised after that."""
    drive(site)
    tell(END)
    signal(site, "raised", inside(60), received_at=LATER)
    tell(LATER)

    assert [(one.state, one.is_exercise) for one in Alarm.objects.order_by("pk")] == [
        ("normal", True),
        ("unacknowledged", False),
    ]
    assert told()[-1][:2] == ("Ann", 1)


def test_a_person_who_corrected_the_record_is_not_overruled(site, check):
    tell(END)
    failed = Record.objects.get()
    Record.objects.filter(pk=failed.pk).update(
        withdrawn_at=END, withdrawn_reason="Sensor was not driven.", withdrawn_by="dock"
    )
    deliver(
        site,
        report("SN1", LOW, occurred_at=inside(5)),
        report("SN1", LOW, "cleared", occurred_at=inside(9)),
        now=LATER,
    )
    tell(LATER)

    assert Record.objects.count() == 1
    assert not Disposition.objects.exists()
    assert only().stood_on_at == LATER


def test_once_it_is_closed_its_real_alarms_are_acknowledged_like_any_other(site, check):
    signal(site, "raised", inside(5))
    tell(END)

    assert acknowledge(alarm=only(), by="Ann", note=None, now=LATER).first

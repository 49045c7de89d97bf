"""The same messages and the same steps of people leave the same alarms, whatever the order in which they are delivered
(our own promise); on file, where `test_timeline` shows it of ten thousand histories in memory."""

from collections import defaultdict
from datetime import UTC, datetime
from random import Random

import pytest
from django.db import transaction

from alarms.lifecycle import STEPS, Nature, Step
from alarms.matching import Signal
from alarms.models import Alarm, AlarmStep, Event
from alarms.queries import alarms_of
from alarms.services.running_out import call_outlasted, end_shelving_due
from alarms.services.stepping import Stated, lock_alarm, take_step
from equipment.models import Facility, Record
from tests import world
from tests.alarms.histories import END, History, random_history
from tests.alarms.sites import deliver, minutes, raised, report
from tests.world import NOW, TODAY

RESET = datetime(1970, 1, 1, tzinfo=UTC)
SEQUENCES = 150
CONDITIONS = {
    Nature(): "sump-liquid",
    Nature(latches=True): "tank-test-fail",
    Nature(comes_and_goes=True): "sensor-fault",
}
COLUMNS = (
    "device",
    "state",
    "raised_at",
    "last_raised_at",
    "cleared_at",
    "ended_at",
    "shelved_until",
    "acknowledged_until",
    "occurrences",
    "acknowledged_by",
    "acknowledged_at",
)


class Gateway:
    """All histories at one facility, a device each; a batch brings what reached us at one moment."""

    def __init__(self, site: Facility, histories: dict[str, History]) -> None:
        self.site = site
        self.histories = histories
        self.record = Record.objects.create(
            facility=site,
            submitted_by=site.operator,
            entered_by="test",
            recorded_at=NOW,
            activity="repair",
            performed_on=TODAY,
            content_sha256="0" * 64,
        )

    def bring(self, batch: list, now: datetime) -> None:
        """`batch`: device and signal; one that counts at its receipt for a doubtful clock comes with such a clock."""
        if batch:
            reports = [
                report(
                    device,
                    self.condition(device),
                    one.signal,
                    id=f"{device} {one.ref}",
                    occurred_at=RESET if one.doubt else one.at,
                )
                for device, one in batch
            ]
            deliver(self.site, *reports, now=now)

    def condition(self, device: str) -> str:
        return CONDITIONS[self.histories[device].nature]

    def step(self, device: str, step: Step, until: datetime | None, by: str, now: datetime) -> bool:
        """Whether the alarm of the device that is open has this step."""
        alarm = Alarm.objects.exclude(state="normal").filter(facility=self.site, device=device).first()
        if alarm is None or (alarm.state, step) not in STEPS:
            return False
        record = self.record if step == Step.RETURN else None
        end = until if step == Step.SHELVE else None
        with transaction.atomic():
            stated = Stated(step=step, by=by, note="why", until=end, record=record)
            take_step(lock_alarm(alarm.pk), stated, now=now)
        return True

    def left(self) -> list:
        rows = Alarm.objects.filter(facility=self.site, merged_into=None)
        return list(rows.order_by("device", "raised_at").values_list(*COLUMNS))


def live(gateway: Gateway, dice: Random) -> dict[datetime, list]:
    """As it came: late, repeated, people in between. Answers what was shown at some moments."""
    comes, tries, sent = defaultdict(list), defaultdict(list), []
    for device, history in gateway.histories.items():
        for at, one in history.signals:
            comes[at].append((device, one))
        for at, step, length in history.tries:
            tries[at].append((device, step, length))
    shown = {}
    for now in sorted(comes.keys() | tries.keys()):
        repeats = dice.sample(sent, min(len(sent), 5))
        gateway.bring(dice.sample(comes[now], len(comes[now])) + repeats, now)
        sent += [(device, one) for device, one in comes[now] if not one.doubt]
        pass_time(now)
        for number, (device, step, length) in enumerate(tries[now]):
            gateway.step(device, step, now + length, f"{now} {number}", now)
        if dice.random() < 0.1:
            shown[now] = told_at(gateway.site)
    pass_time(END)
    return shown


def pass_time(now: datetime) -> None:
    """What the timetable does by then."""
    end_shelving_due(now=now, limit=1000)
    call_outlasted(now=now, limit=1000)


def in_order(gateway: Gateway, steps: list[AlarmStep]) -> None:
    """The same again, each at its own moment; steps that were taken are taken again where the state has them."""
    counts, acts = defaultdict(list), defaultdict(list)
    for device, history in gateway.histories.items():
        for _, one in history.signals:
            counts[one.at].append((device, one))
    for step in steps:
        acts[step.through].append(step)
    for now in sorted(counts.keys() | acts.keys()):
        pass_time(now)
        gateway.bring(counts[now], now)
        for step in acts[now]:
            gateway.step(step.alarm.device, Step(step.kind), step.until, step.by, now)
    pass_time(END)


def told_at(site: Facility, known_at: datetime | None = None) -> list:
    rows = alarms_of([site.pk], known_at=known_at)[site.pk]
    return sorted((one.device, one.raised_at, one.cleared_at, one.occurrences) for one in rows if one)


def test_what_comes_late_repeated_and_shuffled_leaves_the_same_alarms_as_in_order(owner):
    dice = Random(282)
    histories = {f"D{n}": random_history(dice) for n in range(SEQUENCES)}
    late, prompt = (Gateway(world.facility(owner, name), histories) for name in ("LATE", "PROMPT"))
    shown = live(late, dice)
    steps = list(AlarmStep.objects.filter(facility=late.site).select_related("alarm").order_by("pk"))
    in_order(prompt, steps)

    assert late.left() == prompt.left()
    assert Alarm.objects.filter(facility=late.site).exclude(merged_into=None).exists()
    assert_messages_belong(late.site)
    assert shown == {now: told_at(late.site, now) for now in shown}, "as it was known at that moment"


def assert_messages_belong(site: Facility) -> None:
    raises: dict[int, int] = defaultdict(int)
    for event in Event.objects.filter(facility=site, signal=Signal.RAISED).select_related("alarm"):
        raises[event.alarm.merged_into_id or event.alarm_id] += 1
    alarms = Alarm.objects.filter(facility=site, merged_into=None)
    assert raises == {one.pk: one.occurrences for one in alarms}


@pytest.mark.parametrize("days", [0, 2])
def test_two_alarms_that_turn_out_to_be_one_are_merged(site, days):
    """A raise between them was stuck in the gateway; while it was missing the first had ended."""
    alarm = raised(site)
    deliver(site, report(signal="cleared", occurred_at=NOW + minutes(1)), now=NOW + minutes(1))
    step(alarm, Step.ACKNOWLEDGE, NOW + minutes(5))
    again = raised(site, now=NOW + minutes(9))
    now = NOW + minutes(10 + days * 24 * 60)
    intake = deliver(site, report(occurred_at=NOW + minutes(2)), now=now)

    alarm.refresh_from_db()
    again.refresh_from_db()
    assert (again.merged_into, again.merged_at, again.state, again.next_step_at) == (
        alarm,
        now,
        "normal",
        None,
    )
    assert (alarm.state, alarm.occurrences, alarm.acknowledged_by) == ("acknowledged", 3, "Ann")
    assert f"merged into it: {again.pk}" in intake.remarks[0].detail


def test_a_late_clear_divides_an_alarm_and_people_are_told_of_the_second_part(site):
    alarm = raised(site)
    step(alarm, Step.ACKNOWLEDGE, NOW + minutes(1))
    deliver(site, report(occurred_at=NOW + minutes(20)), now=NOW + minutes(20))
    now = NOW + minutes(30)
    intake = deliver(site, report(signal="cleared", occurred_at=NOW + minutes(10)), now=now)

    alarm.refresh_from_db()
    new = Alarm.objects.get(pk=intake.opened[0])
    assert (alarm.state, alarm.ended_at, alarm.occurrences) == ("normal", NOW + minutes(10), 1)
    assert (new.state, new.raised_at, new.next_step_at) == ("unacknowledged", NOW + minutes(20), now)
    assert Event.objects.get(occurred_at=NOW + minutes(20)).alarm == new
    assert "an alarm of its own" in intake.remarks[0].detail


def test_an_alarm_that_is_open_again_after_all_is_called_anew(site):
    """The test failed once more before somebody reset its latch: that came out a day later."""
    alarm = raised(site, "P1", "line-test-fail")
    deliver(
        site, report("P1", "line-test-fail", "cleared", occurred_at=NOW + minutes(5)), now=NOW + minutes(5)
    )
    step(alarm, Step.ACKNOWLEDGE, NOW + minutes(6))
    step(alarm, Step.RESET, NOW + minutes(30))
    later = NOW + minutes(60 * 24)
    deliver(site, report("P1", "line-test-fail", occurred_at=NOW + minutes(10)), now=later)

    alarm.refresh_from_db()
    assert (alarm.state, alarm.ended_at, alarm.acknowledged_by) == ("unacknowledged", None, None)
    assert (alarm.call_round, alarm.called_from, alarm.next_step_at) == (2, later, later)
    assert alarm.steps.count() == 2


def test_a_leak_test_that_fails_again_days_after_its_answer_calls_people_and_waits_for_its_reset(site):
    """The clear between them was lost. Common practice, no source."""
    alarm = raised(site, "P1", "line-test-fail")
    step(alarm, Step.ACKNOWLEDGE, NOW + minutes(5))
    later = NOW + minutes(60 * 72)
    intake = deliver(site, report("P1", "line-test-fail", occurred_at=later), now=later)

    alarm.refresh_from_db()
    assert (intake.opened, intake.joined) == ([], [alarm.pk])
    assert (alarm.state, alarm.occurrences, alarm.next_step_at) == ("unacknowledged", 2, later)


def step(alarm: Alarm, kind: Step, now: datetime) -> None:
    with transaction.atomic():
        take_step(lock_alarm(alarm.pk), Stated(step=kind, by="Ann", note="why"), now=now)

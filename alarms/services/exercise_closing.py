"""Closes function checks whose window is over: evidence for what responded, calls for what still is in alarm.

Safe to run twice and by several workers: whoever moves the row of a check, under its facility's lock, does the work.
"""

import logging
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, F, Max, OuterRef, QuerySet
from django.db.models.functions import Coalesce

from alarms.dispositions import DispositionType
from alarms.escalation import call_at
from alarms.exercises import LATE_WITHIN, CheckOutcome
from alarms.lifecycle import WAITING, State
from alarms.models import Alarm, Disposition, Event, Exercise, ExerciseSensor
from alarms.models.alarms import IS_ALARM, IS_EXERCISE, IS_WAITING, Untold
from alarms.models.events import COUNTS_AT
from alarms.models.exercises import CLOSES_AT, is_tried
from alarms.services.answering import acknowledge
from alarms.services.calls import call_anew
from alarms.services.dispositions import dispose
from alarms.services.escalation import LOOK_AGAIN, say_untold, write_notices
from alarms.services.exercise_evidence import file_record, name_of, shown_of
from alarms.services.plans import plan_for
from alarms.tenancy import organisations_holding
from equipment.services.facts import lock_facility
from equipment.services.stating import withdraw_fact
from equipment.tenancy import Right
from equipment.vocabulary import Outcome

NO_EXERCISE = "Messages that came later show that it was no exercise."
log = logging.getLogger(__name__)


def close_due(*, now: datetime, limit: int) -> int:
    """Close up to `limit` checks that are over, the longest over first; how many were closed or put back.

    A check that cannot be closed has no effect from its end on: its alarms are real, it is logged and put back by a few
    minutes; the rest go on.
    """
    over = Exercise.objects.annotate(over_at=CLOSES_AT).filter(
        is_tried(now), closed_at=None, withdrawn_at=None, over_at__lte=now
    )
    chosen = list(over.order_by("over_at", "pk").values_list("pk", flat=True)[:limit])
    moved = sum(_tried(pk, now=now) for pk in chosen)
    _let_go_what_began_before(now=now)
    return moved


def _tried(pk: int, *, now: datetime) -> int:
    try:
        return _close(pk, now=now)
    except Exception:
        log.exception("could not close function check %s; its alarms are real", pk)
        _put_back(pk, now=now)
        _let_go(Alarm.objects.filter(IS_EXERCISE, exercise=pk), now=now)
        return 1


def _put_back(pk: int, *, now: datetime) -> None:
    """Look at it again a little later, so that it does not stand in the way of the others."""
    Exercise.objects.filter(pk=pk).update(try_at=now + LOOK_AGAIN)


@transaction.atomic
def _close(pk: int, *, now: datetime) -> int:
    exercise = _locked(pk)
    claimed = Exercise.objects.filter(pk=pk, closed_at=None, withdrawn_at=None).update(closed_at=now)
    if claimed:
        exercise.closed_at = now
        _judge(exercise, _sensors(exercise), now=now)
    return claimed


def _locked(pk: int) -> Exercise:
    lock_facility(Exercise.objects.get(pk=pk).facility_id)
    return Exercise.objects.select_related("facility", "submitted_by").get(pk=pk)


def _sensors(exercise: Exercise) -> list[ExerciseSensor]:
    rows = list(exercise.sensors.select_related("component", "record__superseded_by").order_by("pk"))
    for row in rows:
        row.exercise = exercise
    return rows


def _judge(exercise: Exercise, sensors: Sequence[ExerciseSensor], *, now: datetime) -> None:
    """Evidence for each sensor; what it explains is answered, everything else that was marked is real."""
    if exercise.submitted_by_id not in organisations_holding(Right.ANSWER, exercise.facility, now=now):
        # Whoever planned it was shown the door meanwhile, and states nothing here any more.
        for sensor in sensors:
            ExerciseSensor.objects.filter(pk=sensor.pk).update(heard_through=_latest(sensor))
            for alarm in _marked(exercise, sensor):
                if alarm.state in WAITING:
                    _real(alarm, None, exercise, now=now)
        return
    for sensor in sensors:
        sensor.heard_through = _latest(sensor)
        shown = shown_of(sensor)
        sensor.record = file_record(sensor, shown, now=now)
        sensor.outcome, sensor.judged_at = shown.outcome, now
        sensor.save(update_fields=["outcome", "judged_at", "heard_through", "record"])
        for alarm in _marked(exercise, sensor):
            _settle(alarm, exercise, sensor, now=now)


def _latest(sensor: ExerciseSensor) -> int:
    """Messages are numbered under the facility's lock, which is held here; their moments may be older than that."""
    latest = Event.objects.filter(component=sensor.component_id).aggregate(latest=Max("pk"))["latest"]
    return latest or 0


def _marked(exercise: Exercise, sensor: ExerciseSensor) -> list[Alarm]:
    rows = Alarm.objects.filter(IS_EXERCISE, IS_ALARM, exercise=exercise, component=sensor.component_id)
    return list(rows.select_related("facility", "component", "exercise").order_by("pk"))


def _settle(alarm: Alarm, exercise: Exercise, sensor: ExerciseSensor, *, now: datetime) -> None:
    answered = Disposition.objects.filter(alarm=alarm, withdrawn_at=None).order_by("pk").last()
    if not _came_and_went(alarm, exercise) or not _is_shown(sensor):
        _real(alarm, answered, exercise, now=now)
    elif answered is None:
        _answer(alarm, exercise, sensor, now=now)
    elif answered.type != DispositionType.EXERCISE:
        _real(alarm, None, exercise, now=now)  # somebody said what it was, and that was no exercise


def _is_shown(sensor: ExerciseSensor) -> bool:
    """Whether its record stands and says that it responded; somebody may have corrected it since."""
    record = sensor.record
    passed = record is not None and record.outcome == Outcome.PASS and record.withdrawn_at is None
    return passed and sensor.outcome == CheckOutcome.RESPONDED and not hasattr(record, "superseded_by")


def _came_and_went(alarm: Alarm, exercise: Exercise) -> bool:
    """Whether all that is known of it lies inside the window, and it is over."""
    if alarm.state not in (State.RETURNED_UNACKNOWLEDGED, State.NORMAL) or alarm.cleared_at is None:
        return False
    return all(exercise.window.holds(at) for at in (alarm.raised_at, alarm.cleared_at, alarm.last_turn_at))


def _answer(alarm: Alarm, exercise: Exercise, sensor: ExerciseSensor, *, now: datetime) -> None:
    """The record answers it (40 CFR 280.50(c)(4), as read here), and whoever led the check answers for it."""
    if alarm.next_step == 1:
        _call_first(alarm, now=now)
    dispose(
        alarm=alarm,
        type=DispositionType.EXERCISE,
        at=now,
        evidence={"record": sensor.record_id},
        by=name_of(exercise),
        organisation=exercise.submitted_by,
        now=now,
    )
    # The answer counts at the last message on file: what is raised later, or turns out later to have been, is news.
    note = f"It came and went in function check {exercise.pk}."
    acknowledge(alarm=alarm, by=exercise.led_by, note=note, now=alarm.last_turn_at)


def _call_first(alarm: Alarm, *, now: datetime) -> None:
    """Nobody hides an alarm behind a check: the first people are told even where it is over before their minute."""
    call = call_at(plan_for(alarm, now=now), 1, due_at=now, as_of=now)
    if call is None:
        log.error("alarm %s: there is nobody to tell", alarm.pk)
        say_untold(alarm.pk, Untold.NOBODY, now=now)
    else:
        write_notices(alarm, [call], now=now)


def _real(alarm: Alarm, answered: Disposition | None, exercise: Exercise, *, now: datetime) -> None:
    """It loses its mark, its answer if it had one of ours, and is called from the first step on."""
    if answered is not None and answered.type == DispositionType.EXERCISE:
        withdraw_fact(
            fact=answered,
            organisation=exercise.submitted_by,
            reason=NO_EXERCISE,
            by=name_of(exercise),
            now=now,
        )
    if Alarm.objects.filter(IS_EXERCISE, pk=alarm.pk).update(stood_on_at=now):
        alarm.stood_on_at = now
        if alarm.state in WAITING:
            call_anew([alarm.pk], now=now)
        else:
            Alarm.objects.filter(pk=alarm.pk).update(call_round=F("call_round") + 1)
            alarm.call_round += 1
            _call_first(alarm, now=now)


def _let_go(alarms: QuerySet[Alarm], *, now: datetime) -> None:
    """These are real from now on, whatever else is to be worked out about their check."""
    for alarm in list(alarms.select_related("facility", "component", "exercise__submitted_by")):
        if alarm.exercise is None:
            continue
        try:
            with transaction.atomic():
                lock_facility(alarm.facility_id)
                _real(alarm, None, alarm.exercise, now=now)
        except Exception:
            log.exception("could not tell alarm %s from its function check", alarm.pk)
            _put_back(alarm.exercise.pk, now=now)


def _let_go_what_began_before(*, now: datetime) -> None:
    """A message that came late shows that it stood before the check began, so it was never the check's."""
    early = Alarm.objects.filter(
        IS_EXERCISE,
        IS_WAITING,
        is_tried(now, "exercise__"),
        exercise__closed_at=None,
        raised_at__lt=F("exercise__starts_at"),
    )
    _let_go(early.order_by("pk"), now=now)


def hear_late(*, now: datetime, limit: int) -> int:
    """Judge up to `limit` sensors again of which there are later messages, or an alarm that nobody has settled.

    Looks at every sensor of the last two days, so it is not for every pass: nobody waits for it to be told. A check of
    which a sensor cannot be judged is put back by a few minutes.
    """
    later = Event.objects.annotate(moment=COUNTS_AT).filter(
        component=OuterRef("component"), pk__gt=OuterRef("heard_through"), moment__lt=OuterRef("over_at")
    )
    heard = ExerciseSensor.objects.annotate(
        over_at=Coalesce("exercise__ended_at", "exercise__ends_at")
    ).filter(Exists(later), over_at__gt=now - LATE_WITHIN, exercise__closed_at__gt=now - LATE_WITHIN)
    unsettled = Alarm.objects.filter(IS_EXERCISE, IS_WAITING, exercise__closed_at__isnull=False)
    tried = is_tried(now, "exercise__")
    chosen = {
        *heard.filter(tried).order_by("pk").values_list("exercise", "component")[:limit],
        *unsettled.filter(tried).order_by("pk").values_list("exercise", "component")[:limit],
    }
    return sum(_judge_again(exercise, component, now=now) for exercise, component in sorted(chosen))


def _judge_again(exercise_id: int, component_id: int, *, now: datetime) -> int:
    try:
        with transaction.atomic():
            exercise = _locked(exercise_id)
            its = [one for one in _sensors(exercise) if one.component_id == component_id]
            _judge(exercise, its, now=now)
            return 1
    except Exception:
        log.exception("could not judge a sensor of function check %s again", exercise_id)
        _put_back(exercise_id, now=now)
        _let_go(Alarm.objects.filter(IS_EXERCISE, IS_WAITING, exercise=exercise_id), now=now)
        return 0

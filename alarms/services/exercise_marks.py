"""Marks alarms as exercises when they open: those that a planned function check raises, and no others."""

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db.models import QuerySet
from django.db.models.functions import Coalesce

from alarms.exercises import LATE_WITHIN, drives, is_covered, is_late_evidence
from alarms.models import Alarm, Exercise, ExerciseSensor
from alarms.models.alarms import IS_ALARM, held_until
from alarms.tenancy import organisations_holding
from equipment.faults import Conflict
from equipment.models import Facility
from equipment.tenancy import Right


def mark_exercises(facility: Facility, opened: Iterable[Alarm], *, now: datetime) -> None:
    """Set `exercise` on new rows, not yet written, that belong to a check. The caller holds the facility's lock.

    Whoever planned it must still be allowed to answer alarms here, or a plan made in advance would hold back calls for
    somebody who was shown the door since. What stood when the check began stays real, also where it is raised anew.
    """
    driven = [row for row in opened if row.component_id is not None and drives(row.condition_class)]
    checks = _checks_of({row.component_id for row in driven}, now=now) if driven else []
    if not checks:
        return
    allowed = organisations_holding(Right.ANSWER, facility, now=now)
    for row in driven:
        for check in checks:
            mine = check.component_id == row.component_id and check.exercise.submitted_by_id in allowed
            if mine and _belongs(row, check.exercise, now=now) and not _stood_before(row, check.exercise):
                row.exercise = check.exercise


def is_exercised(alarm: Alarm) -> bool:
    """Whether a function check raised it that was not closed yet."""
    return alarm.is_exercise and alarm.exercise is not None and alarm.exercise.closed_at is None


def refuse_while_exercised(alarm: Alarm) -> None:
    """Nobody keeps an alarm quiet inside a check: what still stands at its end has to call people."""
    if is_exercised(alarm) and alarm.exercise is not None:
        raise Conflict(
            f"Function check {alarm.exercise_id} raised it, and nobody else is called until its end at "
            f"{alarm.exercise.window.ends_at.isoformat()}; then it is answered if it is over, else it is real. If it "
            "is real now, end the check first.",
            function_check=alarm.exercise_id,
        )


def standing_at(component_id: int | None, at: datetime) -> QuerySet[Alarm]:
    """Alarms of the component whose condition held at that instant, as far as is known by now."""
    return Alarm.objects.filter(IS_ALARM, held_until(at), component=component_id, raised_at__lt=at)


def _checks_of(components: Collection[int | None], *, now: datetime) -> list[ExerciseSensor]:
    """The checks of these sensors that are under way, or that ended so lately that messages may still come."""
    rows = ExerciseSensor.objects.annotate(
        over_at=Coalesce("exercise__ended_at", "exercise__ends_at")
    ).filter(
        component__in=components,
        exercise__withdrawn_at=None,
        exercise__starts_at__lte=now,
        over_at__gte=now - LATE_WITHIN,
    )
    return list(rows.select_related("exercise").order_by("pk"))


def _belongs(row: Alarm, exercise: Exercise, *, now: datetime) -> bool:
    window = exercise.window
    return is_covered(window, raised_at=row.raised_at, received_at=now) or is_late_evidence(
        window, raised_at=row.raised_at, cleared_at=row.cleared_at, received_at=now
    )


def _stood_before(row: Alarm, exercise: Exercise) -> bool:
    before = standing_at(row.component_id, exercise.starts_at)
    return before.filter(condition=row.condition).exists()

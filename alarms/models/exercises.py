"""Function checks: exercises planned ahead, with the sensors that are to be driven and what became of each."""

from datetime import datetime

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce

from alarms.exercises import CheckOutcome, Window
from equipment.models import Component, FacilityFact, Record

# The same as `Exercise.closes_at`, for the database.
CLOSES_AT = Coalesce("ended_at", "ends_at")


def is_tried(now: datetime, exercise: str = "") -> Q:
    """Checks that are not put back until later; `exercise`: the path to them, with its `__`."""
    return Q(**{f"{exercise}try_at": None}) | Q(**{f"{exercise}try_at__lte": now})


class Exercise(FacilityFact):
    """A planned function check: who leads it, in which window, at which sensors.

    It may be withdrawn before it begins and ended early after that. `closed_at`: what it showed has been worked out.
    """

    led_by = models.CharField(max_length=200, help_text="the person on site who leads it")
    starts_at = models.DateTimeField(help_text="inclusive")
    ends_at = models.DateTimeField(help_text="as planned; exclusive")
    note = models.CharField(max_length=2000, null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True, help_text="ended early; exclusive")
    ended_by = models.CharField(max_length=200, null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True, help_text="when its evidence was put on file")
    try_at = models.DateTimeField(
        null=True, blank=True, help_text="when it is looked at again, after a fault of ours"
    )

    class Meta:
        verbose_name = "function check"
        indexes = [
            models.Index(fields=["facility", "starts_at"], name="exercise_by_start"),
            models.Index(fields=["closed_at"], name="exercise_by_closing"),
            models.Index(CLOSES_AT, condition=Q(closed_at=None, withdrawn_at=None), name="exercise_by_close"),
        ]
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="exercise_ends_after_it_began"
            ),
            models.CheckConstraint(
                condition=Q(starts_at__gte=F("recorded_at")), name="exercise_not_backdated"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_by=None)
                | (Q(ended_at__gte=F("starts_at"), ended_at__lte=F("ends_at")) & ~Q(ended_by=None)),
                name="exercise_ended_inside_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None) | Q(withdrawn_at=None), name="withdrawn_exercise_shows_nothing"
            ),
        ]

    def __str__(self) -> str:
        return f"function check led by {self.led_by}"

    @property
    def window(self) -> Window:
        """From its start to its end, early or as planned."""
        return Window(self.starts_at, self.ended_at or self.ends_at)


class ExerciseSensor(models.Model):
    """One sensor that is to be driven. `outcome` is empty until the check has ended; since messages may come late,
    `judged_at` says when it was worked out last, and `heard_through` which messages were on file then."""

    exercise = models.ForeignKey(Exercise, models.CASCADE, related_name="sensors")
    component = models.ForeignKey(Component, models.PROTECT, related_name="+")
    outcome = models.CharField(
        max_length=30, choices=[(one, one) for one in CheckOutcome], null=True, blank=True
    )
    judged_at = models.DateTimeField(null=True, blank=True)
    heard_through = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="number of the latest message of it that was on file"
    )
    record = models.OneToOneField(
        Record, models.PROTECT, null=True, blank=True, related_name="+", help_text="its evidence"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["exercise", "component"], name="sensor_checked_once"),
            models.CheckConstraint(
                condition=Q(outcome=None, judged_at=None)
                | (Q(outcome__in=[*CheckOutcome]) & ~Q(judged_at=None)),
                name="exercise_outcome_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.component} in {self.exercise}"

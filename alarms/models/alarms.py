"""Alarms: what is wrong somewhere, from its first raise to the end."""

from datetime import datetime
from typing import Any

from django.db import models
from django.db.models import Q

from alarms.conditions import ConditionClass, Priority
from alarms.lifecycle import ANSWERED, OPEN, WAITING, State
from alarms.matching import Key
from alarms.models.exercises import Exercise
from alarms.timeline import Answer, Episode
from equipment.models import Component, Facility

IS_OPEN = Q(state__in=sorted(OPEN))
IS_WAITING = Q(state__in=sorted(WAITING))
IS_ALARM = Q(merged_into=None)
IS_EXERCISE = Q(exercise__isnull=False, stood_on_at=None)


def held_until(moment: datetime) -> Q:
    """The condition was not over before that moment, as far as is known by now; its beginning is not asked.

    An alarm whose clear was lost has ended all the same, without one.
    """
    uncleared = Q(cleared_at=None) | Q(cleared_at__gte=moment)
    return uncleared & (Q(ended_at=None) | Q(ended_at__gte=moment))


class Untold(models.TextChoices):
    """Why nobody could be told of an alarm so far."""

    NOBODY = "there is nobody to tell"
    REFUSED = "every address was refused"
    OUR_FAULT = "a fault of ours; it is in the log"


class Alarm(models.Model):
    """One episode of one condition at one component, or at a device that no component is known for.

    `device` is filled where `component` is not; both empty: the facility as a whole. A condition that comes and goes
    before somebody answered is still the same episode. `state` moves only along `alarms.lifecycle`; `acknowledged_*` is
    the answer in force, and every step that people took is kept as `AlarmStep`. `next_step` and `next_step_at` say
    which call of the call list comes next, and when.

    One that a planned function check raised is an `exercise`, unless it `stood_on_at` the check's end.

    A late message can show that two alarms were one: then the younger is `merged_into` the older, is over, and stays
    with what was said about it, which counts for the older.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    component = models.ForeignKey(Component, models.PROTECT, null=True, blank=True, related_name="+")
    device = models.CharField(max_length=100, blank=True, default="")
    condition = models.CharField(max_length=60)
    condition_class = models.CharField(
        max_length=30, choices=[(one, one) for one in ConditionClass], null=True, blank=True
    )
    priority = models.CharField(max_length=10, choices=[(one, one) for one in Priority])
    state = models.CharField(max_length=30, choices=[(one, one) for one in State])
    raised_at = models.DateTimeField(help_text="when the condition began, by the device's clock")
    discovered_at = models.DateTimeField(
        null=True, blank=True, help_text="when the operator learned of it; null: as soon as it was raised"
    )
    opened_at = models.DateTimeField(help_text="when it reached us")
    cleared_at = models.DateTimeField(null=True, blank=True)
    occurrences = models.PositiveIntegerField(default=1)
    last_raised_at = models.DateTimeField()
    last_turn_at = models.DateTimeField(help_text="the latest signal or step that counts in it")
    ended_at = models.DateTimeField(null=True, blank=True, help_text="when it was over and answered for")
    shelved_until = models.DateTimeField(null=True, blank=True, help_text="it comes back by itself then")
    shelving_try_at = models.DateTimeField(
        null=True, blank=True, help_text="when it is tried again to bring it back, after a fault of ours"
    )
    merged_into = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="merged", help_text="they were one alarm"
    )
    merged_at = models.DateTimeField(null=True, blank=True, help_text="when that became known")
    exercise = models.ForeignKey(
        Exercise,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="alarms",
        help_text="the function check that raised it",
    )
    stood_on_at = models.DateTimeField(
        null=True, blank=True, help_text="when it turned out to be no exercise but real"
    )
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.CharField(max_length=200, null=True, blank=True)
    acknowledged_note = models.CharField(max_length=2000, null=True, blank=True)
    acknowledged_until = models.DateTimeField(
        null=True,
        blank=True,
        help_text="it came back after it was acknowledged: if it still stands then, people are called again",
    )
    clock_note = models.CharField(
        max_length=400,
        null=True,
        blank=True,
        help_text="what the law wants done about it; null: nothing by the hour",
    )
    clock_until = models.DateTimeField(
        null=True, blank=True, help_text="until when; null: no such clock runs"
    )
    clock_from = models.DateTimeField(null=True, blank=True, help_text="since when that clock runs")
    clock_step = models.PositiveIntegerField(
        null=True,
        blank=True,
        help_text="next call about that clock: 1 at half, 2 at three quarters, 3 at its end",
    )
    clock_step_at = models.DateTimeField(
        null=True, blank=True, help_text="when; null: nobody else is called about a clock"
    )
    called_from = models.DateTimeField(help_text="calls are timed from here: its opening, or its coming back")
    call_round = models.PositiveIntegerField(
        default=1, help_text="how often the call list was begun for it; more than 1: it came back"
    )
    next_step = models.PositiveIntegerField(default=1)
    next_step_at = models.DateTimeField(null=True, blank=True)
    untold_since = models.DateTimeField(
        null=True, blank=True, help_text="since when it is known that nobody can be told; a mail sent ends it"
    )
    untold_reason = models.CharField(max_length=40, choices=Untold, null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["facility", "condition", "last_turn_at"], name="alarm_by_turn"),
            models.Index(fields=["next_step_at"], condition=IS_WAITING, name="alarm_by_next_step"),
            models.Index(
                fields=["shelved_until"], condition=~Q(shelved_until=None), name="alarm_by_end_of_shelving"
            ),
            models.Index(
                fields=["acknowledged_until"],
                condition=~Q(acknowledged_until=None),
                name="alarm_by_end_of_answer",
            ),
            models.Index(
                fields=["clock_step_at"], condition=~Q(clock_step_at=None), name="alarm_by_clock_step"
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["facility", "component", "condition"],
                condition=IS_OPEN & ~Q(component=None),
                name="one_open_alarm_of_a_component",
            ),
            models.UniqueConstraint(
                fields=["facility", "device", "condition"],
                condition=IS_OPEN & Q(component=None),
                name="one_open_alarm_of_a_device",
            ),
            models.CheckConstraint(condition=Q(state__in=[*State]), name="alarm_state_known"),
            models.CheckConstraint(condition=Q(priority__in=[*Priority]), name="alarm_priority_known"),
            models.CheckConstraint(
                condition=Q(condition_class=None) | Q(condition_class__in=[*ConditionClass]),
                name="alarm_class_known",
            ),
            models.CheckConstraint(condition=Q(component=None) | Q(device=""), name="alarm_has_one_place"),
            models.CheckConstraint(
                condition=Q(acknowledged_at=None, acknowledged_by=None, acknowledged_note=None)
                | (~Q(acknowledged_at=None) & ~Q(acknowledged_by=None)),
                name="acknowledged_by_somebody",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=sorted(ANSWERED)) | ~Q(acknowledged_at=None) | ~IS_ALARM,
                name="alarm_answered_before_it_ends",
            ),
            models.CheckConstraint(
                condition=~IS_WAITING | Q(acknowledged_at=None), name="waiting_alarm_is_not_answered"
            ),
            models.CheckConstraint(
                condition=Q(state=State.NORMAL, merged_into=None, ended_at__isnull=False)
                | Q(~(Q(state=State.NORMAL) & IS_ALARM), ended_at=None),
                name="alarm_has_an_end_once_it_is_over",
            ),
            models.CheckConstraint(
                condition=Q(state=State.SHELVED, shelved_until__isnull=False)
                | Q(~Q(state=State.SHELVED), shelved_until=None),
                name="alarm_is_shelved_for_a_limited_time",
            ),
            models.CheckConstraint(
                condition=Q(merged_into=None, merged_at=None)
                | Q(merged_into__isnull=False, merged_at__isnull=False, state=State.NORMAL),
                name="merged_alarm_is_over",
            ),
            models.CheckConstraint(
                condition=Q(stood_on_at=None) | Q(exercise__isnull=False), name="only_an_exercise_stands_on"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.condition} at {self.place}"

    @property
    def is_exercise(self) -> bool:
        """Whether a function check raised it and nothing spoke against that so far."""
        return self.exercise_id is not None and self.stood_on_at is None

    @property
    def key(self) -> Key:
        """What at most one open alarm exists for at its facility."""
        return Key(self.component_id, self.device, self.condition)

    @property
    def whole(self) -> "Alarm":
        """The alarm that it turned out to be a part of, else itself."""
        return self.merged_into if self.merged_into is not None else self

    def episode(self) -> Episode:
        """What has become of it so far, as it is counted."""
        at, by = self.acknowledged_at, self.acknowledged_by
        return Episode(
            state=State(self.state),
            raised_at=self.raised_at,
            last_raised_at=self.last_raised_at,
            last_turn_at=self.last_turn_at,
            cleared_at=self.cleared_at,
            ended_at=self.ended_at,
            shelved_until=self.shelved_until,
            acknowledged_until=self.acknowledged_until,
            occurrences=self.occurrences,
            answer=Answer(at, by or "", self.acknowledged_note) if at is not None else None,
        )

    @staticmethod
    def columns_of(episode: Episode) -> dict[str, Any]:
        """The same the other way round: columns with their values."""
        answer = episode.answer
        return {
            "state": episode.state,
            "raised_at": episode.raised_at,
            "last_raised_at": episode.last_raised_at,
            "last_turn_at": episode.last_turn_at,
            "cleared_at": episode.cleared_at,
            "ended_at": episode.ended_at,
            "shelved_until": episode.shelved_until,
            "acknowledged_until": episode.acknowledged_until,
            "occurrences": episode.occurrences,
            "acknowledged_at": answer.at if answer is not None else None,
            "acknowledged_by": answer.by if answer is not None else None,
            "acknowledged_note": answer.note if answer is not None else None,
        }

    @property
    def place(self) -> str:
        """The component's tag, else what the device calls itself, else that it is the whole facility."""
        if self.component is not None:
            return self.component.tag
        return self.device or "the whole facility"

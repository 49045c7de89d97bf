"""Steps that people took with an alarm, kept as they were taken."""

from django.db import models
from django.db.models import F, Q

from alarms.lifecycle import ACTS, Step
from alarms.models.alarms import Alarm
from equipment.models import Facility, Record

# Steps that keep an alarm quiet or end it need a reason.
REASONED = (Step.RESET, Step.SHELVE, Step.TAKE_OUT)


class AlarmStep(models.Model):
    """One step of a person; rows are added, never changed. Together with the messages they decide what the alarm is.

    `at` is our clock, `through` the moment at which the step counts among the messages: whoever answers has seen all
    that was shown, also what a device's fast clock put a little ahead.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=30, choices=[(one, one) for one in ACTS])
    at = models.DateTimeField(help_text="when it was taken")
    through = models.DateTimeField(help_text="the moment at which it counts among the messages")
    by = models.CharField(max_length=200)
    note = models.CharField(max_length=2000, null=True, blank=True, help_text="what is being done, or why")
    until = models.DateTimeField(null=True, blank=True, help_text="the end of shelving")
    record = models.ForeignKey(
        Record, models.PROTECT, null=True, blank=True, related_name="+", help_text="the repair"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=[*ACTS]), name="alarm_step_known"),
            models.CheckConstraint(condition=Q(through__gte=F("at")), name="alarm_step_counts_once_taken"),
            models.CheckConstraint(
                condition=~Q(kind__in=[*REASONED]) | ~Q(note=None), name="alarm_step_has_its_reason"
            ),
            models.CheckConstraint(
                condition=Q(kind=Step.SHELVE, until__isnull=False, until__gt=F("at"))
                | Q(~Q(kind=Step.SHELVE), until=None),
                name="shelving_has_its_end",
            ),
            models.CheckConstraint(
                condition=Q(kind=Step.RETURN, record__isnull=False) | Q(~Q(kind=Step.RETURN), record=None),
                name="return_to_service_has_its_repair",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} by {self.by}"

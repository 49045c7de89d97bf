"""Events: what devices said, kept as it came."""

from datetime import datetime

from django.db import models
from django.db.models import Case, F, Q, When

from alarms.matching import Signal
from alarms.models.alarms import Alarm
from equipment.models import Component, Facility, Organisation

# The same as `Event.counts_at`, for the database.
COUNTS_AT = Case(When(clock_doubtful=True, then=F("received_at")), default=F("occurred_at"))


def counts_since(moment: datetime) -> Q:
    """Events that count at that moment or later, in words that an index can answer."""
    return Q(clock_doubtful=False, occurred_at__gte=moment) | Q(clock_doubtful=True, received_at__gte=moment)


class Event(models.Model):
    """One message of a sensor or console, kept even if nothing here matches it.

    `source` is the sender's name of a console or gateway at the facility, `source_event_id` that one's id of the
    message: two organisations may use the same. The same id with other content is kept too and points at the first,
    which stands. A raise among those moves its alarm all the same, since a lost alarm costs more than a double one.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    source = models.CharField(max_length=100)
    source_event_id = models.CharField(max_length=100)
    received_from = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    entered_by = models.CharField(max_length=200, help_text="the person or key that sent it")
    device = models.CharField(max_length=100, blank=True, help_text="what the device calls itself")
    condition = models.CharField(max_length=60)
    signal = models.CharField(max_length=10, choices=[(one, one) for one in Signal])
    occurred_at = models.DateTimeField(help_text="by the device's clock, as it was sent")
    clock_doubtful = models.BooleanField(
        default=False, help_text="that clock cannot be believed: its alarm is timed by the receipt"
    )
    received_at = models.DateTimeField()
    payload = models.JSONField(default=dict, help_text="whatever else the sender stated")
    content_sha256 = models.CharField(max_length=64, help_text="to tell a repeat from a conflict")
    component = models.ForeignKey(Component, models.PROTECT, null=True, blank=True, related_name="+")
    alarm = models.ForeignKey(Alarm, models.PROTECT, null=True, blank=True, related_name="events")
    remark = models.CharField(max_length=500, null=True, blank=True)
    conflicts_with = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="conflicts"
    )

    class Meta:
        indexes = [
            models.Index(fields=["facility", "occurred_at"], name="event_by_moment"),
            models.Index(
                fields=["facility", "received_at"],
                condition=Q(clock_doubtful=True),
                name="event_by_receipt",
            ),
            models.Index(
                fields=["facility", "condition"],
                condition=Q(alarm=None, signal=Signal.CLEARED, conflicts_with=None),
                name="event_loose_clear",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["facility", "received_from", "source", "source_event_id"],
                condition=Q(conflicts_with=None),
                name="event_stands_once",
            ),
            models.UniqueConstraint(
                fields=["conflicts_with", "content_sha256"],
                condition=~Q(conflicts_with=None),
                name="event_conflict_kept_once",
            ),
            models.CheckConstraint(condition=Q(signal__in=[*Signal]), name="event_signal_known"),
            models.CheckConstraint(
                condition=Q(conflicts_with=None) | Q(alarm=None) | Q(signal=Signal.RAISED),
                name="conflicting_clear_moves_no_alarm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.condition} {self.signal} at {self.occurred_at}"

    @property
    def counts_at(self) -> datetime:
        """The moment by which it moved its alarm."""
        return self.received_at if self.clock_doubtful else self.occurred_at


class AlarmSource(models.Model):
    """An organisation whose messages raised an alarm, and when the first of them reached us.

    It says what the messages say, and is kept so that nobody has to read them all: a judgement asks it of every alarm
    that a facility ever had. `alarms.services.alarm_sources` keeps both together.
    """

    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="sources")
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    first_received_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["alarm", "organisation"], name="alarm_source_once")]

    def __str__(self) -> str:
        return f"{self.organisation} of {self.alarm}"

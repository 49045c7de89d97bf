"""Call lists: who is to be told, and after how long."""

from datetime import time

from django.db import models
from django.db.models import F, Q

from alarms.conditions import Priority
from alarms.escalation import REPEAT_MINUTES
from equipment.models import Facility, Organisation
from equipment.models.withdrawal import Withdrawable

MORNING = time(7, 0)
HOURS_HELP = "weekly hours and calendar of holidays, as alarms.hours reads them; null: at any time"


class Contact(models.Model):
    """A person of an organisation. Another name or address is another contact; when and where they can be reached is
    stated anew, and `version` rises with it (ETag)."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=100)
    email = models.EmailField(max_length=254)
    time_zone = models.CharField(
        max_length=50, null=True, blank=True, help_text="where they live; null: the facility's"
    )
    morning = models.TimeField(default=MORNING, help_text="when their day's digest is due, by their clock")
    hours = models.JSONField(null=True, blank=True, help_text=HOURS_HELP)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name", "email"], name="contact_kept_once")
        ]

    def __str__(self) -> str:
        return f"{self.name} <{self.email}>"


class Rota(models.Model):
    """People of an organisation who take turns, each for so many days from the hand-over time on; `version` rises with
    each change (ETag)."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=100)
    version = models.PositiveIntegerField(default=1)
    starts_on = models.DateField(help_text="local day on which the first person's first turn begins")
    turn_days = models.PositiveIntegerField(help_text="7: a week")
    hand_over = models.TimeField(help_text="by the clock of the rota's zone")
    time_zone = models.CharField(max_length=50)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name"], name="rota_name_used_once"),
            models.CheckConstraint(condition=Q(turn_days__gte=1), name="turn_takes_a_day"),
        ]

    def __str__(self) -> str:
        return f"rota {self.name}"


class RotaTurn(models.Model):
    """A person's place in the order of a rota; one may have several."""

    rota = models.ForeignKey(Rota, models.CASCADE, related_name="turns")
    position = models.PositiveIntegerField(help_text="from 1")
    contact = models.ForeignKey(Contact, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["rota", "position"], name="turn_position_used_once"),
            models.CheckConstraint(condition=Q(position__gte=1), name="turn_position_from_one"),
        ]

    def __str__(self) -> str:
        return f"turn {self.position} of {self.rota}: {self.contact}"


class Substitution(Withdrawable):
    """One person stands in for another, from an instant to (not including) another, wherever that one is listed."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    away = models.ForeignKey(Contact, models.PROTECT, related_name="+")
    stand_in = models.ForeignKey(Contact, models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    reason = models.CharField(max_length=500)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200, help_text="the person or key that sent it")

    class Meta(Withdrawable.Meta):
        indexes = [models.Index(fields=["organisation", "ends_at"], name="substitution_by_end")]
        constraints = [
            *Withdrawable.Meta.constraints,
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="substitution_takes_time"),
            models.CheckConstraint(condition=~Q(away=F("stand_in")), name="nobody_stands_in_for_themselves"),
        ]

    def __str__(self) -> str:
        return f"{self.stand_in} for {self.away}"


class CallList(models.Model):
    """A facility's list, for one priority or (empty) for whatever has no list of its own; `version` rises with each
    change (ETag). After the last step it starts over at that step."""

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    priority = models.CharField(
        max_length=10, choices=[(one, one) for one in Priority], blank=True, default=""
    )
    version = models.PositiveIntegerField(default=1)
    repeat_minutes = models.PositiveIntegerField(default=REPEAT_MINUTES)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["facility", "priority"], name="one_call_list_a_priority"),
            models.CheckConstraint(condition=Q(repeat_minutes__gte=1), name="repeat_takes_a_minute"),
            models.CheckConstraint(
                condition=Q(priority__in=["", *Priority]), name="call_list_priority_known"
            ),
        ]

    def __str__(self) -> str:
        return f"call list of {self.facility}, version {self.version}"


class CallStep(models.Model):
    """So many minutes after an alarm reached us, these contacts, and whoever is on duty in these rotas, are told if
    nobody has answered."""

    call_list = models.ForeignKey(CallList, models.CASCADE, related_name="steps")
    position = models.PositiveIntegerField(help_text="from 1")
    after_minutes = models.PositiveIntegerField()
    recipients = models.ManyToManyField(Contact, related_name="+")
    rotas = models.ManyToManyField(Rota, related_name="+")
    hours = models.JSONField(null=True, blank=True, help_text=HOURS_HELP)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["call_list", "position"], name="step_position_used_once"),
            models.CheckConstraint(condition=Q(position__gte=1), name="step_position_from_one"),
        ]

    def __str__(self) -> str:
        return f"step {self.position} after {self.after_minutes} min"

"""Call lists: who is to be told, and after how long."""

from django.db import models
from django.db.models import Q

from alarms.escalation import REPEAT_MINUTES
from equipment.models import Facility, Organisation


class Contact(models.Model):
    """A person of an organisation. Never edited: another name or address is another contact."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=100)
    email = models.EmailField(max_length=254)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "name", "email"], name="contact_kept_once")
        ]

    def __str__(self) -> str:
        return f"{self.name} <{self.email}>"


class CallList(models.Model):
    """The facility's list; `version` rises with each change (ETag). After the last step it starts over at that step."""

    facility = models.OneToOneField(Facility, models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=1)
    repeat_minutes = models.PositiveIntegerField(default=REPEAT_MINUTES)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(repeat_minutes__gte=1), name="repeat_takes_a_minute")
        ]

    def __str__(self) -> str:
        return f"call list of {self.facility}, version {self.version}"


class CallStep(models.Model):
    """So many minutes after an alarm reached us, these contacts are told if nobody has answered."""

    call_list = models.ForeignKey(CallList, models.CASCADE, related_name="steps")
    position = models.PositiveIntegerField(help_text="from 1")
    after_minutes = models.PositiveIntegerField()
    recipients = models.ManyToManyField(Contact, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["call_list", "position"], name="step_position_used_once"),
            models.CheckConstraint(condition=Q(position__gte=1), name="step_position_from_one"),
        ]

    def __str__(self) -> str:
        return f"step {self.position} after {self.after_minutes} min"

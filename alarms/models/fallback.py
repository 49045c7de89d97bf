"""Fallback people: whom an operator wants told where no call list reaches anybody."""

from django.db import models
from django.db.models import Q

from alarms.models.call_lists import Contact
from equipment.models import Organisation


class FallbackList(models.Model):
    """An operator's standing list for all of its facilities; `version` rises with each change (ETag)."""

    organisation = models.OneToOneField(Organisation, models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=1)
    changed_at = models.DateTimeField()
    changed_by = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"fallback people of {self.organisation}, version {self.version}"


class FallbackPerson(models.Model):
    """A person's place on the list."""

    fallback_list = models.ForeignKey(FallbackList, models.CASCADE, related_name="people")
    position = models.PositiveIntegerField(help_text="from 1")
    contact = models.ForeignKey(Contact, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fallback_list", "position"], name="fallback_position_used_once"),
            models.UniqueConstraint(fields=["fallback_list", "contact"], name="fallback_person_named_once"),
            models.CheckConstraint(condition=Q(position__gte=1), name="fallback_position_from_one"),
        ]

    def __str__(self) -> str:
        return f"fallback {self.position}: {self.contact}"

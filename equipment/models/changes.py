"""Facts that began on some day: statuses with measured residue, and any other field that changed."""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facilities import Facility
from equipment.models.withdrawal import Withdrawable
from equipment.vocabulary import Status


def once_a_day(name: str, *fields: str) -> list[models.UniqueConstraint]:
    """Of the rows that stand, one a day: for each component, and for the facility itself."""
    stands = Q(withdrawn_at=None)
    return [
        models.UniqueConstraint(
            fields=["component", *fields],
            condition=stands & ~Q(component=None),
            name=f"one_component_{name}_a_day",
        ),
        models.UniqueConstraint(
            fields=["facility", *fields],
            condition=stands & Q(component=None),
            name=f"one_facility_{name}_a_day",
        ),
    ]


class StatusChange(Withdrawable):
    """From this local day on, the component (or, without one, the whole facility) has this status."""

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="status_changes")
    component = models.ForeignKey(
        Component, models.PROTECT, null=True, blank=True, related_name="status_changes"
    )
    effective_on = models.DateField()
    status = models.CharField(max_length=30, choices=Status)
    residue_in = models.FloatField(null=True, blank=True, help_text="measured depth of what is left, inches")
    residue_pct = models.FloatField(
        null=True, blank=True, help_text="per cent by weight of the system's capacity"
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200)

    class Meta:
        constraints = [
            *Withdrawable.Meta.constraints,
            *once_a_day("status", "effective_on"),
            models.CheckConstraint(condition=Q(status__in=Status.values), name="status_known"),
            models.CheckConstraint(
                condition=(Q(residue_in=None) | Q(residue_in__gte=0))
                & (Q(residue_pct=None) | Q(residue_pct__range=(0, 100))),
                name="residue_measured",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.status} from {self.effective_on}"


class FieldChange(Withdrawable):
    """From this local day on, a field of the component or facility has this value; earlier days keep theirs."""

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="field_changes")
    component = models.ForeignKey(
        Component, models.PROTECT, null=True, blank=True, related_name="field_changes"
    )
    effective_on = models.DateField()
    field = models.CharField(max_length=60)
    value = models.JSONField(null=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200)

    class Meta:
        constraints = [*Withdrawable.Meta.constraints, *once_a_day("value", "effective_on", "field")]

    def __str__(self) -> str:
        return f"{self.field} = {self.value} from {self.effective_on}"

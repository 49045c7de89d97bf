"""Who holds which operator class at a facility, from when to when (40 CFR 280.240 to 280.245)."""

from django.db import models
from django.db.models import Q

from equipment.fact_vocabulary import OperatorClass
from equipment.models.facility_facts import Endable, FacilityFact, in_order
from equipment.models.organisations import Organisation


class Person(models.Model):
    """Somebody who works for an organisation. No contact data: a name to put beside training and duties."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="people")
    name = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200)

    def __str__(self) -> str:
        return self.name


class Designation(FacilityFact, Endable):
    """A person is named for an operator class. Training is a record about the person."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="designations")
    operator_class = models.CharField(max_length=3, choices=OperatorClass)
    assumed_duties_on = models.DateField(null=True, blank=True, help_text="first day of the duties")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            *Endable.Meta.constraints,
            models.CheckConstraint(
                condition=Q(operator_class__in=OperatorClass.values), name="designation_class_known"
            ),
            models.CheckConstraint(
                condition=in_order("assumed_duties_on", "ended_on"), name="designation_ends_after_it_began"
            ),
            models.UniqueConstraint(
                fields=["facility", "person", "operator_class"],
                condition=Q(ended_on=None, withdrawn_at=None),
                name="designated_once_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} as {self.operator_class}"

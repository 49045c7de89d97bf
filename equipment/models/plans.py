"""What is meant to happen, and what happened and is neither record, alarm nor spill: both start duties."""

from django.db import models
from django.db.models import Q

from equipment.fact_vocabulary import SiteEventType
from equipment.models.components import Component
from equipment.models.facility_facts import FacilityFact, none_or


class Plan(FacilityFact):
    """A plan on which duties with a lead time hang. Another day is another plan: this one is withdrawn."""

    type = models.CharField(
        max_length=60, help_text="permanent closure, change in service, fuel switch, ... or an activity"
    )
    subjects = models.ManyToManyField(Component, through="PlanSubject", related_name="+")
    planned_on = models.DateField()
    planned_at = models.DateTimeField(null=True, blank=True)
    to_ethanol_pct = models.FloatField(null=True, blank=True)
    to_biodiesel_pct = models.FloatField(null=True, blank=True)
    corrective_action = models.BooleanField(
        null=True, blank=True, help_text="a closure that answers corrective action (280.71(a))"
    )

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=~Q(type=""), name="plan_type_stated"),
            models.CheckConstraint(
                condition=none_or(to_ethanol_pct__range=(0, 100), to_biodiesel_pct__range=(0, 100)),
                name="plan_blend_is_a_percentage",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.type} planned for {self.planned_on}"


class PlanSubject(models.Model):
    """A plan is about this component."""

    fact = models.ForeignKey(Plan, models.CASCADE, related_name="named")
    component = models.ForeignKey(Component, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["fact", "component"], name="plan_subject_named_once")]

    def __str__(self) -> str:
        return f"{self.fact} at {self.component}"


class SiteEvent(FacilityFact):
    """Something that happened and starts a duty: a change of owner, a parted breakaway, a cancelled cover."""

    type = models.CharField(max_length=30, choices=SiteEventType)
    happened_on = models.DateField()
    happened_at = models.DateTimeField(null=True, blank=True)
    notice_received_on = models.DateField(null=True, blank=True, help_text="counts for 280.109(b)")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=Q(type__in=SiteEventType.values), name="site_event_type_known"),
        ]

    def __str__(self) -> str:
        return f"{self.type} on {self.happened_on}"

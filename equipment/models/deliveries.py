"""Fuel deliveries: what 40 CFR 280.30(a) wants known before and during a transfer."""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facility_facts import FacilityFact, in_order, none_or
from equipment.models.records import Record


class Delivery(FacilityFact):
    """One transfer into one or more tanks; one that is ordered for a coming day has no result yet."""

    subjects = models.ManyToManyField(Component, through="DeliverySubject", related_name="+")
    started_on = models.DateField()
    started_at = models.DateTimeField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ullage_gal = models.FloatField(null=True, blank=True, help_text="room in the tank before, gallons")
    ordered_gal = models.FloatField(null=True, blank=True)
    delivered_gal = models.FloatField(null=True, blank=True)
    check_record = models.ForeignKey(
        Record, models.PROTECT, null=True, blank=True, related_name="+", help_text="the check made before it"
    )
    watched_throughout = models.BooleanField(
        null=True, blank=True, help_text="somebody watched the whole transfer"
    )

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(
                condition=in_order("started_on", "ended_on") & in_order("started_at", "ended_at"),
                name="delivery_ends_after_it_started",
            ),
            models.CheckConstraint(
                condition=none_or(ullage_gal__gte=0, ordered_gal__gte=0, delivered_gal__gte=0),
                name="delivery_gallons_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | ~Q(ended_on=None), name="delivery_end_has_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"delivery of {self.started_on}"


class DeliverySubject(models.Model):
    """A delivery went into this tank or compartment."""

    fact = models.ForeignKey(Delivery, models.CASCADE, related_name="named")
    component = models.ForeignKey(Component, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fact", "component"], name="delivery_subject_named_once")
        ]

    def __str__(self) -> str:
        return f"{self.fact} into {self.component}"

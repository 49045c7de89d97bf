"""Papers with a first and a last good day: assurance, certificates, registrations, letters."""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facility_facts import Endable, FacilityFact, in_order, none_or


class Document(FacilityFact, Endable):
    """What a paper says. Without subjects it is about the whole facility. A renewal is a document of its own.

    `expires_on` is what the paper says; `ended_on` is stated when it was cancelled earlier. The sooner one counts.
    """

    type = models.CharField(
        max_length=60, help_text="financial responsibility, registration, agency letter, ..."
    )
    subjects = models.ManyToManyField(Component, through="DocumentSubject", related_name="+")
    number = models.CharField(
        max_length=100, null=True, blank=True, help_text="policy, permit or file number"
    )
    issuer = models.CharField(max_length=200, null=True, blank=True)
    issued_on = models.DateField(null=True, blank=True, help_text="first day on which it is good")
    expires_on = models.DateField(null=True, blank=True, help_text="last day on which it is good")
    received_on = models.DateField(null=True, blank=True)
    per_occurrence_usd = models.FloatField(null=True, blank=True, help_text="cover for one occurrence")
    annual_aggregate_usd = models.FloatField(null=True, blank=True, help_text="cover for a year")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            *Endable.Meta.constraints,
            models.CheckConstraint(condition=~Q(type=""), name="document_type_stated"),
            models.CheckConstraint(
                condition=in_order("issued_on", "expires_on"), name="document_expires_after_issue"
            ),
            models.CheckConstraint(
                condition=in_order("issued_on", "ended_on"), name="document_ends_after_issue"
            ),
            models.CheckConstraint(
                condition=none_or(per_occurrence_usd__gte=0, annual_aggregate_usd__gte=0),
                name="document_cover_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.type} to {self.ended_on or self.expires_on or 'no stated day'}"


class DocumentSubject(models.Model):
    """A document is about this component."""

    fact = models.ForeignKey(Document, models.CASCADE, related_name="named")
    component = models.ForeignKey(Component, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fact", "component"], name="document_subject_named_once")
        ]

    def __str__(self) -> str:
        return f"{self.fact} for {self.component}"

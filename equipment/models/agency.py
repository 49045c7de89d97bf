"""What an agency determined, and what it decided in writing for one case."""

from django.db import models
from django.db.models import Q

from equipment.fact_vocabulary import FindingType
from equipment.models.components import Component
from equipment.models.documents import Document
from equipment.models.facility_facts import FacilityFact, in_order


class AgencyFinding(FacilityFact):
    """A finding, order or notice of the agency; retraining counts from the day of the determination (280.244)."""

    type = models.CharField(max_length=24, choices=FindingType)
    determined_on = models.DateField(null=True, blank=True)
    served_on = models.DateField(null=True, blank=True, help_text="day on which it reached the facility")
    retraining_waived = models.BooleanField(null=True, blank=True)
    text = models.CharField(max_length=4000, null=True, blank=True)

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=Q(type__in=FindingType.values), name="finding_type_known"),
        ]

    def __str__(self) -> str:
        return f"{self.type} of {self.determined_on or 'an unknown day'}"


class AgencyOverride(FacilityFact):
    """The agency sets other figures of one rule for this facility, or one component of it; its letter is on file."""

    rule = models.CharField(max_length=80, help_text="id of the rule, as a finding names it")
    component = models.ForeignKey(Component, models.PROTECT, null=True, blank=True, related_name="+")
    params = models.JSONField(help_text="the figures it sets, by their names in the rule")
    from_on = models.DateField(null=True, blank=True, help_text="first day; null: always was")
    to_on = models.DateField(null=True, blank=True, help_text="last day; null: until withdrawn")
    document = models.ForeignKey(Document, models.PROTECT, related_name="overrides", help_text="the letter")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=~Q(rule=""), name="override_names_a_rule"),
            models.CheckConstraint(
                condition=in_order("from_on", "to_on"), name="override_ends_after_it_began"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule} by {self.document}"

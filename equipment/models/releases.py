"""Spills and confirmed releases: what reached the environment, and who knew when."""

from django.db import models
from django.db.models import Q

from equipment.models.facility_facts import FacilityFact, none_or


class Spill(FacilityFact):
    """A spill or overfill (40 CFR 280.53). A sheen is seen, never worked out from gallons; null: nobody said."""

    discovered_on = models.DateField()
    discovered_at = models.DateTimeField(null=True, blank=True)
    gal_to_environment = models.FloatField(
        null=True, blank=True, help_text="gallons beyond any spill bucket or sump"
    )
    sheen = models.BooleanField(null=True, blank=True, help_text="a sheen was seen on water nearby")
    reached = models.CharField(max_length=100, null=True, blank=True, help_text="soil, water, concrete, ...")
    substance = models.CharField(max_length=100, null=True, blank=True)

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(
                condition=none_or(gal_to_environment__gte=0), name="spill_gallons_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"spill of {self.discovered_on}"


class SpillKnowledge(models.Model):
    """A party knew of the spill from this instant: some clocks run from each party's own knowledge."""

    spill = models.ForeignKey(Spill, models.CASCADE, related_name="known_by")
    party = models.CharField(max_length=100, help_text="owner, operator, contractor, ...")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["spill", "party"], name="party_named_once_a_spill"),
            models.CheckConstraint(condition=~Q(party=""), name="spill_party_named"),
        ]

    def __str__(self) -> str:
        return f"{self.party} knew of {self.spill}"


class Release(FacilityFact):
    """A confirmed release (40 CFR 280.61): its clocks count from the confirmation."""

    identified_on = models.DateField(null=True, blank=True)
    identified_at = models.DateTimeField(null=True, blank=True)
    confirmed_on = models.DateField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    free_product = models.BooleanField(null=True, blank=True, help_text="liquid fuel was found (280.64)")
    # Alarms live in the app above this one: a number, not a foreign key.
    alarm = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="number of the alarm that led to it"
    )

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(identified_at=None) | ~Q(identified_on=None),
                name="release_identification_has_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"release confirmed {self.confirmed_on}"

"""Daily inventory control: what was read, metered and delivered on a day, as stated (40 CFR 280.43(a)).

Nothing is worked out here. Gallons of the book, over and short are reckoned when somebody asks, so that a corrected
day is right everywhere at once. Only the step from inches to gallons is kept, since a chart may be replaced.
"""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facility_facts import FacilityFact, none_or
from equipment.vocabulary import LedgerBasis, LevelSource

NOT_BELOW_ZERO = Q(returned_gal__gte=0, refill_gal__gte=0) & none_or(opening_gal__gte=0, pumped_gal__gte=0)


class InventoryDay(FacilityFact):
    """One local day of one ledger. A correction is a further row with a reason; the first stays readable.

    The ledger belongs to a tank, a compartment or, where tanks are manifolded, their tank system. `readings` are
    closing readings, one a tank: {tank, level_in, gal, water_in, water_gal}, `gal` as the chart showed it with the
    water in it, or, where no level was stated, product as stated. `meters` are totals: {meter, start, end,
    rolls_over_at}. An idle day holds neither.
    """

    component = models.ForeignKey(Component, models.PROTECT, related_name="inventory_days")
    on = models.DateField(help_text="local day at the facility")
    idle = models.BooleanField(default=False, help_text="the site was shut: nobody pumped, delivered or read")
    measured_by = models.CharField(max_length=10, choices=LevelSource, null=True, blank=True)
    opening_gal = models.FloatField(null=True, blank=True)
    basis = models.CharField(
        max_length=10, choices=LedgerBasis, null=True, blank=True, help_text="what opening_gal continues"
    )
    readings = models.JSONField(default=list, blank=True)
    meters = models.JSONField(default=list, blank=True)
    pumped_gal = models.FloatField(null=True, blank=True, help_text="where no totals were stated")
    returned_gal = models.FloatField(default=0, help_text="metered and poured back")
    refill_gal = models.FloatField(default=0, help_text="filled an empty line, unmetered")
    note = models.CharField(max_length=1000, null=True, blank=True)
    supersedes = models.ForeignKey(
        "self",
        models.PROTECT,
        null=True,
        blank=True,
        related_name="corrections",
        help_text="what it corrects",
    )
    reason = models.CharField(max_length=500, null=True, blank=True, help_text="why it was corrected")

    class Meta:
        indexes = [models.Index(fields=["component", "on"], name="inventory_by_day")]
        constraints = [
            *FacilityFact.Meta.constraints,
            models.UniqueConstraint(
                fields=["component", "on"],
                condition=Q(supersedes=None, withdrawn_at=None),
                name="one_closing_a_day",
            ),
            models.UniqueConstraint(
                fields=["supersedes"], condition=Q(withdrawn_at=None), name="inventory_day_corrected_once"
            ),
            models.CheckConstraint(
                condition=Q(supersedes=None, reason=None) | (~Q(supersedes=None) & ~Q(reason=None)),
                name="inventory_correction_has_a_reason",
            ),
            models.CheckConstraint(condition=NOT_BELOW_ZERO, name="inventory_gallons_not_negative"),
            models.CheckConstraint(
                condition=Q(opening_gal=None, basis=None) | (~Q(opening_gal=None) & ~Q(basis=None)),
                name="inventory_opening_has_a_basis",
            ),
        ]

    def __str__(self) -> str:
        return f"ledger of {self.on}"


class InventoryDelivery(models.Model):
    """Fuel that came on a day: readings before and after, what was pumped meanwhile, the receipt, temperatures."""

    day = models.ForeignKey(InventoryDay, models.CASCADE, related_name="deliveries")
    before = models.JSONField(default=list, blank=True)
    after = models.JSONField(default=list, blank=True)
    pumped_meanwhile_gal = models.FloatField(default=0)
    receipt_gal = models.FloatField(null=True, blank=True, help_text="gross gallons on the receipt")
    receipt = models.CharField(max_length=100, null=True, blank=True, help_text="number of the receipt")
    product_degf = models.FloatField(null=True, blank=True, help_text="of the delivered product")
    tank_degf = models.FloatField(null=True, blank=True, help_text="of the product in the tank before")
    api_gravity = models.FloatField(null=True, blank=True, help_text="at 60 °F")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pumped_meanwhile_gal__gte=0) & none_or(receipt_gal__gte=0),
                name="inventory_delivery_not_negative",
            )
        ]

    def __str__(self) -> str:
        return f"delivery, {self.day}"

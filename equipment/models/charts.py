"""Tank charts: which volume stands at which depth, from which day on."""

import msgspec
from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facility_facts import FacilityFact
from equipment.physics.charts import Chart
from equipment.physics.tank import Tank
from equipment.vocabulary import ChartSource


class TankChart(FacilityFact):
    """The chart of a tank or compartment from a local day on, until one with a later day takes its place.

    `rows` are pairs of inches and gallons, lowest first; the last one is the full tank. A computed chart keeps its rows
    too: how it was reckoned then must not change what was judged by it.
    """

    component = models.ForeignKey(Component, models.PROTECT, related_name="charts")
    source = models.CharField(max_length=20, choices=ChartSource)
    effective_on = models.DateField(
        null=True, blank=True, help_text="local day from which it holds; null: ever since the tank was there"
    )
    rows = models.JSONField()
    geometry = models.JSONField(null=True, blank=True)
    note = models.CharField(
        max_length=1000, null=True, blank=True, help_text="where it comes from: title, sheet, date"
    )

    class Meta:
        indexes = [models.Index(fields=["component", "effective_on"], name="chart_by_day")]
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=Q(source__in=ChartSource.values), name="chart_source_known"),
            models.CheckConstraint(
                condition=~Q(source=ChartSource.COMPUTED) | Q(geometry__isnull=False),
                name="computed_chart_says_from_what",
            ),
            models.UniqueConstraint(
                fields=["component", "effective_on"], condition=Q(withdrawn_at=None), name="one_chart_a_day"
            ),
            models.UniqueConstraint(
                fields=["component"],
                condition=Q(withdrawn_at=None, effective_on=None),
                name="one_chart_from_the_start",
            ),
        ]

    def __str__(self) -> str:
        return f"chart of {self.component} from {self.effective_on or 'the start'}"

    @property
    def chart(self) -> Chart:
        """The rows as the computations take them."""
        return msgspec.convert({"rows": self.rows}, Chart)

    @property
    def tank(self) -> Tank | None:
        """The geometry it was computed from, or is compared with; None where nobody stated one."""
        return None if self.geometry is None else msgspec.convert(self.geometry, Tank)

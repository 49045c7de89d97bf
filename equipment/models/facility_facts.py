"""What every fact about a facility carries besides its content."""

from typing import Any

from django.db import models
from django.db.models import F, Q

from equipment.models.facilities import Facility
from equipment.models.organisations import Organisation
from equipment.models.withdrawal import Withdrawable


class FacilityFact(Withdrawable):
    """Stated once and never edited: who sent it, who entered it and when. A mistake is withdrawn with a reason.

    A moment has two columns: `..._on` is the local day at the facility, `..._at` the instant, where one was stated.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    submitted_by = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200, help_text="the person or key that sent it")

    class Meta(Withdrawable.Meta):
        abstract = True


class Endable(models.Model):
    """A fact that holds for a time, and whose last day may be stated later: by whom and when is kept."""

    ended_on = models.DateField(null=True, blank=True, help_text="last day on which it holds")
    end_recorded_at = models.DateTimeField(null=True, blank=True)
    end_recorded_by = models.CharField(max_length=200, null=True, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on=None, end_recorded_at=None, end_recorded_by=None)
                | (~Q(ended_on=None) & ~Q(end_recorded_at=None) & ~Q(end_recorded_by=None)),
                name="%(class)s_end_stated_by_somebody",
            )
        ]


def none_or(**lookups: Any) -> Q:
    """Unknown, or within the bounds: `none_or(ullage_gal__gte=0)`."""
    condition = Q()
    for lookup, bound in lookups.items():
        column = lookup.rsplit("__", 1)[0]
        condition &= Q(**{column: None}) | Q(**{lookup: bound})
    return condition


def in_order(first: str, later: str) -> Q:
    """The later column is unknown, the first one is, or they come in this order (the same day is in order)."""
    return Q(**{first: None}) | Q(**{later: None}) | Q(**{f"{later}__gte": F(first)})

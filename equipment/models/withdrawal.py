"""How a fact that was stated by mistake is taken out: never deleted, always with a reason."""

from django.db import models
from django.db.models import Q


class Withdrawable(models.Model):
    """Adds the three columns of a withdrawal and holds that they come together."""

    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=500, null=True, blank=True)
    withdrawn_by = models.CharField(max_length=200, null=True, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn_at=None, withdrawn_reason=None, withdrawn_by=None)
                | (~Q(withdrawn_at=None) & ~Q(withdrawn_reason=None) & ~Q(withdrawn_by=None)),
                name="%(class)s_withdrawn_with_a_reason",
            )
        ]

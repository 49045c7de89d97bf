"""What each record comes to by its own numbers, as last judged, so that lists can ask for it."""

from django.db import models
from django.db.models import Q

from equipment.models import Record


class VerdictWord(models.TextChoices):
    """The outcome that the numbers of a record give."""

    PASS = "pass"  # noqa: S105 - no secret
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"
    INCOMPLETE = "incomplete"


class RecordVerdict(models.Model):
    """The computed verdict of a record that a protocol judges; one that none judges has no row.

    It can be worked out anew from facts at any time, and is whenever the record's facility is judged. `body` is the
    verdict as answered; the columns are what lists ask for. `counted` is the outcome that rules read, null: not known.
    """

    record = models.OneToOneField(Record, models.CASCADE, primary_key=True, related_name="+")
    outcome = models.CharField(max_length=12, choices=VerdictWord)
    counted = models.CharField(max_length=12, null=True)
    criterion = models.CharField(max_length=80, null=True, help_text="id of the criterion that decided")
    measured = models.FloatField(null=True)
    margin = models.FloatField(null=True, help_text="inside the limit; negative is outside")
    missing = models.JSONField(default=list)
    disagreement = models.BooleanField(default=False, help_text="the record says the opposite of its numbers")
    body = models.JSONField()
    law_digest = models.CharField(max_length=64, help_text="packs and protocols by which it was reached")

    class Meta:
        indexes = [
            models.Index(fields=["record"], condition=Q(disagreement=True), name="verdict_disagreements"),
            models.Index(fields=["outcome", "record"], name="verdict_by_outcome"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(outcome__in=VerdictWord.values), name="verdict_outcome_known"),
        ]

    def __str__(self) -> str:
        return f"record {self.record_id}: {self.outcome}"

"""What the rules ask of a facility, as last judged. Every row can be rebuilt from facts at any time."""

from django.db import models
from django.db.models import Q

from equipment.models import Component, Facility


class StandingWord(models.TextChoices):
    """Where an obligation stands, worst first. `not required` is answered on request and never stored."""

    FAILED = "failed"
    OVERDUE = "overdue"
    NO_RECORD = "no record"
    CANNOT_DECIDE = "cannot decide"
    DUE_SOON = "due soon"
    SUSPENDED = "suspended"
    MET = "met"


OPEN_WORDS = (
    StandingWord.FAILED,
    StandingWord.OVERDUE,
    StandingWord.NO_RECORD,
    StandingWord.CANNOT_DECIDE,
    StandingWord.DUE_SOON,
)


class Obligation(models.Model):
    """One rule at one subject (and, where a clock runs for each of several parties, one party).

    `due_on` is a whole local day and is in time to its end; `due_at` is an instant of an hour clock. `late_from` is the
    first moment at which the obligation is late, so that both sort together. Days late are computed when read.
    """

    facility = models.ForeignKey(Facility, models.CASCADE, related_name="+")
    component = models.ForeignKey(Component, models.CASCADE, null=True, related_name="+")
    rule = models.CharField(max_length=80)
    subject = models.CharField(
        max_length=60, help_text="id in the site document: a tag, facility:3, record:88, alarm:7"
    )
    subject_kind = models.CharField(max_length=30)
    party = models.CharField(max_length=100, default="")
    pack = models.CharField(max_length=40)
    title = models.CharField(max_length=200)
    standing = models.CharField(max_length=20, choices=StandingWord)
    due_on = models.DateField(null=True)
    due_at = models.DateTimeField(null=True)
    late_from = models.DateTimeField(null=True, db_index=True)
    cite = models.CharField(max_length=200)
    verified = models.CharField(max_length=20)
    finding = models.JSONField(help_text="the whole finding: evidence, late intervals, why, missing facts")
    changed_at = models.DateTimeField(help_text="when this row last changed")

    class Meta:
        indexes = [models.Index(fields=["standing", "late_from"], name="obligation_by_standing")]
        constraints = [
            models.UniqueConstraint(
                fields=["facility", "rule", "subject", "party"], name="one_obligation_a_subject"
            ),
            models.CheckConstraint(
                condition=Q(standing__in=StandingWord.values), name="obligation_standing_known"
            ),
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(due_at=None), name="due_is_a_day_or_an_instant"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule} at {self.subject}: {self.standing}"


class Standing(models.Model):
    """How a facility stands, and how fresh that is. One row a facility.

    The facility is stale when its facts have another version than the one judged, when `changes_at` has passed, or when
    the rule packs are others. A stale facility is claimed, judged and written by whichever worker comes first.
    """

    facility = models.OneToOneField(Facility, models.CASCADE, primary_key=True, related_name="+")
    facts_version = models.PositiveBigIntegerField(
        default=0, help_text="version of the facts that were judged"
    )
    packs_digest = models.CharField(max_length=64, default="")
    judged_at = models.DateTimeField(null=True)
    changes_at = models.DateTimeField(null=True, help_text="when a finding changes by itself")
    counts = models.JSONField(default=dict, help_text="obligations by standing")
    disagreements = models.PositiveIntegerField(
        default=0, help_text="standing records that say the opposite of their numbers"
    )
    incomplete_tests = models.PositiveIntegerField(
        default=0, help_text="standing records without the numbers that their protocol needs"
    )
    worst = models.CharField(max_length=20, choices=StandingWord, null=True, help_text="null: not judged")
    rank = models.BigIntegerField(
        null=True, unique=True, help_text="worst first; unique, so that a cursor can follow"
    )
    next_late_from = models.DateTimeField(null=True, help_text="when the next obligation would become late")
    claimed_until = models.DateTimeField(null=True)
    retry_at = models.DateTimeField(null=True)
    last_error = models.CharField(max_length=500, default="")
    failed_version = models.PositiveBigIntegerField(null=True, help_text="the facts that could not be judged")

    class Meta:
        indexes = [models.Index(fields=["changes_at"], name="standing_by_change")]

    def __str__(self) -> str:
        return f"{self.facility_id}: {self.worst}"

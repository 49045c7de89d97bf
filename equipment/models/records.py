"""Records: what was done and observed, as reported, never edited."""

from django.db import models
from django.db.models import Q

from equipment.models.components import Component
from equipment.models.facilities import Facility
from equipment.models.organisations import Organisation
from equipment.models.people import Person
from equipment.models.withdrawal import Withdrawable
from equipment.vocabulary import Outcome


class Record(Withdrawable):
    """One activity done once: a test, an inspection, a monitoring result, a repair, a report.

    `performed_on` is the local day at the facility and always known; `performed_at` is the instant, where stated.
    A record with neither subjects nor a person is about the whole facility. A correction is a new record that
    supersedes; a mistake is withdrawn with a reason; nothing else ever changes.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="records")
    activity = models.CharField(max_length=60)
    subjects = models.ManyToManyField(Component, through="RecordSubject", related_name="records")
    person = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="+", help_text="who was trained"
    )
    performed_on = models.DateField()
    performed_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    submitted_by = models.ForeignKey(Organisation, models.PROTECT, related_name="records")
    entered_by = models.CharField(max_length=200, help_text="the person or key that sent it")
    performer = models.CharField(
        max_length=200, null=True, blank=True, help_text="organisation that did the work"
    )
    technician = models.CharField(max_length=200, null=True, blank=True)
    certificate = models.CharField(max_length=100, null=True, blank=True)
    outcome = models.CharField(max_length=15, choices=Outcome, null=True, blank=True)
    measurements = models.JSONField(default=dict, help_text="in the units that their names state")
    stated_units = models.JSONField(
        null=True, blank=True, help_text="values that came in another unit, as stated, by JSON pointer"
    )
    regarding = models.CharField(max_length=40, null=True, blank=True, help_text="what it answers: A12, R88")
    note = models.CharField(max_length=2000, null=True, blank=True)
    external_id = models.CharField(max_length=100, null=True, blank=True)
    content_sha256 = models.CharField(
        max_length=64, help_text="of the report as sent, to tell a repeat from a conflict"
    )
    supersedes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )

    class Meta:
        indexes = [models.Index(fields=["facility", "performed_on"], name="record_by_day")]
        constraints = [
            models.UniqueConstraint(
                fields=["facility", "submitted_by", "external_id"],
                condition=~Q(external_id=None),
                name="external_id_used_once",
            ),
            *Withdrawable.Meta.constraints,
            models.CheckConstraint(
                condition=Q(outcome=None) | Q(outcome__in=Outcome.values), name="record_outcome_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.activity} on {self.performed_on}"


class RecordSubject(models.Model):
    """A record is about this component."""

    record = models.ForeignKey(Record, models.CASCADE, related_name="record_subjects")
    component = models.ForeignKey(Component, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "component"], name="subject_named_once")]

    def __str__(self) -> str:
        return f"{self.record} at {self.component}"


class ConflictingReport(models.Model):
    """A report that came with an external id already used for other content: refused, kept, shown to both sides."""

    record = models.ForeignKey(Record, models.CASCADE, related_name="conflicts")
    content = models.JSONField()
    sha256 = models.CharField(max_length=64)
    received_at = models.DateTimeField()
    entered_by = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "sha256"], name="same_conflict_kept_once")]

    def __str__(self) -> str:
        return f"conflicts with {self.record}"


class Submission(models.Model):
    """A request that was answered under an idempotency key, kept with its answer in the transaction of its facts.

    The row is kept for good, so that a repeat is never stored; its `answer` for some weeks, and is empty after that.
    """

    organisation = models.ForeignKey(Organisation, models.CASCADE, related_name="+")
    key = models.CharField(max_length=200)
    fingerprint = models.CharField(max_length=64, help_text="SHA-256 of method, path and body")
    status = models.PositiveSmallIntegerField(null=True)
    answer = models.TextField(
        default="", help_text="JSON as it was sent: a JSON column would order its keys anew"
    )
    received_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(fields=["received_at"], condition=~Q(answer=""), name="submission_with_answer")
        ]
        constraints = [
            models.UniqueConstraint(fields=["organisation", "key"], name="idempotency_key_used_once")
        ]

    def __str__(self) -> str:
        return self.key

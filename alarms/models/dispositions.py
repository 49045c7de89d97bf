"""Answers to alarms with their evidence, and what else people state about an alarm: facts that rules read."""

from django.db import models
from django.db.models import Q

from alarms.dispositions import MOMENTS, DispositionType
from alarms.models.alarms import Alarm
from equipment.models import Attachment, Delivery, FacilityFact, Organisation, Record, Release


class Disposition(FacilityFact):
    """What an alarm turned out to be, from `at` on, until a later one takes its place; none is ever edited.

    Which evidence a type needs is in `alarms.dispositions`. Acknowledging an alarm is no disposition.
    """

    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="dispositions")
    type = models.CharField(max_length=30, choices=[(one, one) for one in DispositionType])
    at = models.DateTimeField(help_text="from when on it holds")
    checked_at = models.DateTimeField(
        null=True, blank=True, help_text="the equipment was checked for a release"
    )
    finding = models.CharField(max_length=2000, null=True, blank=True, help_text="what the check found")
    repaired_at = models.DateTimeField(null=True, blank=True, help_text="the defective part was put right")
    liquid_removed_at = models.DateTimeField(null=True, blank=True)
    clean_result_at = models.DateTimeField(
        null=True, blank=True, help_text="monitoring afterwards showed no leak"
    )
    investigated_at = models.DateTimeField(null=True, blank=True)
    cause = models.CharField(max_length=2000, null=True, blank=True, help_text="what it was instead")
    action = models.CharField(max_length=2000, null=True, blank=True, help_text="what was done")
    no_defect = models.BooleanField(null=True, blank=True, help_text="the check found no defective part")
    record = models.ForeignKey(
        Record,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="clean result, test, function check, report to the agency",
    )
    second_month = models.ForeignKey(
        Record, models.PROTECT, null=True, blank=True, related_name="+", help_text="second month of inventory"
    )
    delivery = models.ForeignKey(Delivery, models.PROTECT, null=True, blank=True, related_name="+")
    release = models.ForeignKey(Release, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["alarm", "at"], name="disposition_by_moment")]
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(condition=Q(type__in=[*DispositionType]), name="disposition_type_known"),
            *(
                models.CheckConstraint(
                    condition=Q(**{name: None}) | Q(**{f"{name}__lte": models.F("at")}),
                    name=f"disposition_holds_from_{name.removesuffix('_at')}",
                )
                for name in MOMENTS
            ),
        ]

    def __str__(self) -> str:
        return f"{self.type} from {self.at}"


class DispositionAttachment(models.Model):
    """An answer to an alarm shows this file."""

    disposition = models.ForeignKey(Disposition, models.CASCADE, related_name="disposition_attachments")
    attachment = models.ForeignKey(Attachment, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["disposition", "attachment"], name="attachment_answers_once")
        ]

    def __str__(self) -> str:
        return f"{self.attachment} with {self.disposition}"


class AlarmAttachment(models.Model):
    """Somebody attached this file to an alarm, whatever its answer will be."""

    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="+")
    attachment = models.ForeignKey(Attachment, models.PROTECT, related_name="+")
    submitted_by = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    attached_at = models.DateTimeField()
    attached_by = models.CharField(max_length=200, help_text="the person or key that attached it")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["alarm", "attachment"], name="attachment_of_an_alarm_once")
        ]

    def __str__(self) -> str:
        return f"{self.attachment} with {self.alarm}"


class AlarmKnowledge(FacilityFact):
    """What somebody stated about an alarm besides its answer; the latest statement of a liquid fact counts.

    A party that knew stands with its instant: some clocks run from each party's own knowledge.
    """

    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="knowledge")
    party = models.CharField(max_length=100, null=True, blank=True, help_text="operator, contractor, ...")
    at = models.DateTimeField(null=True, blank=True, help_text="when that party knew")
    discovered_at = models.DateTimeField(
        null=True, blank=True, help_text="when the operator learned of the alarm"
    )
    liquid_is_method = models.BooleanField(
        null=True, blank=True, help_text="the liquid belongs to the monitoring method, such as brine"
    )
    no_liquid = models.BooleanField(null=True, blank=True, help_text="no liquid was involved")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.CheckConstraint(
                condition=Q(party=None, at=None) | (~Q(party=None) & ~Q(party="") & ~Q(at=None)),
                name="alarm_party_with_its_moment",
            ),
            models.CheckConstraint(
                condition=~Q(party=None, discovered_at=None, liquid_is_method=None, no_liquid=None),
                name="alarm_knowledge_says_something",
            ),
        ]

    def __str__(self) -> str:
        return f"stated of {self.alarm}"

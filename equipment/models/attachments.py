"""Photos and papers that people attach to what they state: facts about a file; its bytes lie in the storage."""

from django.db import models
from django.db.models import Q

from equipment.media_types import SUFFIXES
from equipment.models.documents import Document
from equipment.models.facility_facts import FacilityFact
from equipment.models.records import Record


class Attachment(FacilityFact):
    """A file as it was sent, known by its content: the same bytes are on file once at a facility.

    Never edited and never deleted, so it is kept as long as whatever shows it. One that was sent by mistake is
    withdrawn with a reason and stays readable.
    """

    name = models.CharField(max_length=200, help_text="as its sender called it")
    media_type = models.CharField(max_length=20, choices=[(one, one) for one in SUFFIXES])
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, help_text="of its bytes")

    class Meta:
        constraints = [
            *FacilityFact.Meta.constraints,
            models.UniqueConstraint(
                fields=["facility", "sha256"],
                condition=Q(withdrawn_at=None),
                name="attachment_on_file_once",
            ),
            models.CheckConstraint(condition=Q(size_bytes__gt=0), name="attachment_not_empty"),
            models.CheckConstraint(condition=Q(media_type__in=[*SUFFIXES]), name="attachment_type_known"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_withdrawn(self) -> bool:
        """Whether it was taken back."""
        return self.withdrawn_at is not None

    @property
    def stored_name(self) -> str:
        """Where its bytes lie in the storage; folders of two digits keep each small."""
        return f"{self.sha256[:2]}/{self.sha256}"


class RecordAttachment(models.Model):
    """A record shows this file."""

    record = models.ForeignKey(Record, models.CASCADE, related_name="record_attachments")
    attachment = models.ForeignKey(Attachment, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["record", "attachment"], name="attachment_shown_once")]

    def __str__(self) -> str:
        return f"{self.attachment} with {self.record}"


class DocumentAttachment(models.Model):
    """This file is the paper, or a page of it."""

    document = models.ForeignKey(Document, models.CASCADE, related_name="document_attachments")
    attachment = models.ForeignKey(Attachment, models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["document", "attachment"], name="attachment_is_a_page_once")
        ]

    def __str__(self) -> str:
        return f"{self.attachment} with {self.document}"

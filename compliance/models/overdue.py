"""Who was told when of what is overdue: at most one mail a person and day."""

from django.db import models
from django.db.models import Q

from equipment.models import Organisation

IS_UNSENT = Q(sent_at=None, failed_at=None, withdrawn_at=None)


class OverdueReader(models.Model):
    """A person at an address who acts for an organisation, and the last local day for which it was decided whether they
    get a mail. Whoever moves the day on decides."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    address = models.CharField(max_length=254, help_text="lower case")
    decided_for = models.DateField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "address"], name="one_overdue_reader_a_person")
        ]

    def __str__(self) -> str:
        return self.address


class OverdueDigest(models.Model):
    """One mail of one local day. The table is the queue of these mails.

    `fingerprint` stands for what it lists; a day on which that is the same as in the last mail sent is quiet.
    `withdrawn_at`: by the time of sending there was nothing to tell any more.
    """

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    address = models.CharField(max_length=254, help_text="lower case")
    local_day = models.DateField()
    fingerprint = models.CharField(max_length=64)
    count = models.PositiveIntegerField(help_text="obligations listed")
    message_id = models.CharField(max_length=250, unique=True)
    created_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True, blank=True)
    try_at = models.DateTimeField(help_text="not before; moves on after each failed try")
    tries = models.PositiveIntegerField(default=0)
    answer = models.CharField(max_length=500, blank=True, help_text="of the mail server, where it refused")
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["try_at"], condition=IS_UNSENT, name="overdue_digest_by_turn")]
        constraints = [
            models.UniqueConstraint(
                fields=["organisation", "address", "local_day"], name="one_overdue_digest_a_day"
            ),
            models.CheckConstraint(
                condition=Q(sent_at=None) | Q(failed_at=None), name="overdue_digest_sent_or_failed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.address} on {self.local_day}"

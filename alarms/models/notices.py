"""Notices: who is told, and what came of every try."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from alarms.models.alarms import Alarm
from equipment.models import Facility, Organisation

IS_UNSENT = Q(sent_at=None, failed_at=None, withdrawn_at=None)


class Mailbox(models.Model):
    """An address at which somebody is told for an organisation: one worker at a time, one mail a minute.

    `address` is lower-cased by the database, as notices are looked up by it: two spellings are one person. A row is
    made when the first mail goes there.
    """

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    address = models.CharField(max_length=254)
    next_at = models.DateTimeField(help_text="no further mail before")
    claimed_until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["organisation", "address"], name="one_mailbox_a_person")
        ]

    def __str__(self) -> str:
        return self.address


class Digest(models.Model):
    """One mail that carries several notices. It is written down before it is sent, with its notices; a repeat carries
    the same ones under the same Message-ID."""

    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    message_id = models.CharField(max_length=250, unique=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.message_id


class Notice(models.Model):
    """One person to be told once about one call. The table is the queue of mails.

    `cause` names what it is about (`alarm:12`) and, with step and address, makes it unique, so that writing it down
    twice does no harm. `withdrawn_at`: before the mail had gone the alarm was answered, its clock stopped, or the
    person's organisation lost access, so there is nothing to tell them.
    """

    cause = models.CharField(max_length=60)
    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    alarm = models.ForeignKey(Alarm, models.PROTECT, null=True, blank=True, related_name="notices")
    step = models.PositiveIntegerField()
    organisation = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    email = models.EmailField(max_length=254)
    subject = models.CharField(max_length=200)
    message_id = models.CharField(max_length=250, unique=True)
    due_at = models.DateTimeField()
    created_at = models.DateTimeField()
    claimed_until = models.DateTimeField(null=True, blank=True)
    try_at = models.DateTimeField(help_text="not before; moves on after each failed try")
    tries = models.PositiveIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    digest = models.ForeignKey(
        Digest,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="notices",
        help_text="the mail it shares with others; null: a mail of its own",
    )

    class Meta:
        indexes = [
            models.Index(fields=["try_at"], condition=IS_UNSENT, name="notice_by_turn"),
            models.Index(F("organisation"), Lower("email"), condition=IS_UNSENT, name="notice_by_person"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["cause", "step", "email"], name="told_once_a_call"),
            models.CheckConstraint(
                condition=Q(sent_at=None) | Q(failed_at=None), name="notice_sent_or_failed"
            ),
            models.CheckConstraint(condition=Q(step__gte=1), name="notice_step_from_one"),
        ]

    def __str__(self) -> str:
        return f"{self.cause}, step {self.step}, to {self.name}"

    @property
    def carried_as(self) -> str:
        """Message-ID of the mail that carries it."""
        return self.message_id if self.digest is None else self.digest.message_id


class Outcome(models.IntegerChoices):
    """The class of an enhanced status code: RFC 3463 section 3.1."""

    SUCCESS = 2, "success"
    TRANSIENT = 4, "persistent transient failure"
    PERMANENT = 5, "permanent failure"


class Attempt(models.Model):
    """One try to send a notice, and the answer: class, reply or status code as given, and the text beside it."""

    notice = models.ForeignKey(Notice, models.PROTECT, related_name="attempts")
    at = models.DateTimeField()
    outcome = models.PositiveSmallIntegerField(choices=Outcome)
    code = models.CharField(max_length=20, blank=True)
    text = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(outcome__in=Outcome.values), name="attempt_outcome_known")
        ]

    def __str__(self) -> str:
        return f"{self.outcome} {self.code} {self.text}".strip()

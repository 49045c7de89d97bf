"""Lines of event files that nothing could be made of, kept as they came."""

from django.db import models

from equipment.models import Facility, Organisation

# Bytes of a line that are kept; one that says an event is far shorter.
MAX_KEPT = 32_768


class UnreadableLine(models.Model):
    """A line of a file of events that is no event, with what is wrong about it. The same line of a sender is kept once.

    A device said something and we could not read it: whoever looks for a missing alarm finds it here.
    """

    facility = models.ForeignKey(Facility, models.PROTECT, related_name="+")
    received_from = models.ForeignKey(Organisation, models.PROTECT, related_name="+")
    entered_by = models.CharField(max_length=200, help_text="the person or key that sent it")
    received_at = models.DateTimeField()
    line = models.PositiveIntegerField(help_text="its number in the file, from 1")
    text = models.TextField(help_text="as it was sent; what is no character stands as an escape")
    size = models.PositiveIntegerField(help_text="bytes sent; where `text` is shorter, the rest was cut off")
    sha256 = models.CharField(max_length=64, help_text="of the bytes, to tell a repeat")
    faults = models.JSONField(help_text="what is wrong: pointer into the line, detail, code")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["facility", "received_from", "sha256"], name="unreadable_line_kept_once"
            )
        ]

    def __str__(self) -> str:
        return f"line {self.line}: {self.text[:60]}"

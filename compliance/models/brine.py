"""First looks at liquid-filled spaces: what was read, and what it told. Advice beside an alarm, never its answer."""

from typing import ClassVar

from django.db import models

from alarms.models import Alarm
from equipment.models import FacilityFact


class BrineTriage(FacilityFact):
    """One look at the level of a liquid-filled space beside an alarm; a later look is another row.

    `stated` is the body as it was sent, in the sender's units; `answer` what was told then, kept as it was told since
    people acted on it. No rule reads this table.
    """

    alarm = models.ForeignKey(Alarm, models.PROTECT, related_name="+")
    stated = models.JSONField()
    answer = models.JSONField()

    class Meta(FacilityFact.Meta):
        indexes: ClassVar = [models.Index(fields=["alarm"], name="brine_triage_by_alarm")]

    def __str__(self) -> str:
        return f"brine triage of {self.recorded_at}"

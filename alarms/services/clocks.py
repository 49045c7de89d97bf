"""Notes on an alarm the clock of the law that runs for it. What the law says is decided above this app."""

from datetime import datetime

from alarms.models import Alarm


def note_clock(*, alarm_id: int, text: str | None, until: datetime | None) -> None:
    """Show in mails and pages what has to be done about the alarm, and until when; both None: no clock runs."""
    Alarm.objects.filter(pk=alarm_id).update(clock_note=text, clock_until=until)

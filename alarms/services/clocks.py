"""Notes on an alarm the clock of the law that runs for it. What the law says is decided above this app."""

from datetime import datetime

from alarms.causes import CLOCK
from alarms.clock_calls import Part, moment_of
from alarms.models import Alarm, Notice
from alarms.models.notices import IS_UNSENT
from alarms.services.mailboxes import free


def note_clock(
    *, alarm_id: int, text: str | None, since: datetime | None, until: datetime | None, now: datetime
) -> None:
    """Show in mails and pages what has to be done about the alarm, and until when; all None: no clock runs.

    Another clock than the one noted is called about from its own half on. Calls about the old one that have not gone
    out yet are withdrawn. The same clock again changes nothing but its words.
    """
    rows = Alarm.objects.filter(pk=alarm_id)
    rows.update(clock_note=text)
    if (since, until) == rows.values_list("clock_from", "clock_until").get():
        return
    running = since is not None and until is not None
    rows.update(
        clock_from=since,
        clock_until=until,
        clock_step=Part.HALF if running else None,
        clock_step_at=moment_of(Part.HALF, since=since, until=until) if since and until else None,
    )
    calls = Notice.objects.filter(IS_UNSENT, free(now), alarm=alarm_id, cause__contains=CLOCK)
    calls.update(withdrawn_at=now)

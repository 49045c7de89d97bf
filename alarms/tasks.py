"""Background jobs; each only says "drain"."""

from datetime import timedelta

from celery import shared_task
from django.utils import timezone

from alarms.services import telling

# A pass in progress may still need half a minute after that: a silent mail server is given up after 10 seconds.
AT_MOST = timedelta(seconds=180)


@shared_task(soft_time_limit=240, time_limit=300)
def tell() -> None:
    """Write and send every notice that is due. Woken after commit and by the timetable anyway."""
    telling.drain(clock=timezone.now, at_most=AT_MOST)

"""Ends the shelving of alarms whose time is over. Safe to run anywhere, any number of times, by several workers."""

import logging
from datetime import datetime

from django.db import transaction

from alarms.models import Alarm
from alarms.services.stepping import end_shelving, lock_alarm

log = logging.getLogger(__name__)


def end_shelving_due(*, now: datetime, limit: int) -> int:
    """Let up to `limit` alarms come back whose shelving is over, the longest over first; how many did.

    One that cannot come back is logged and tried again with the next pass; the rest go on.
    """
    due = Alarm.objects.filter(shelved_until__lte=now).order_by("shelved_until", "pk")
    back = 0
    for pk in due.values_list("pk", flat=True)[:limit]:
        try:
            with transaction.atomic():
                end_shelving(lock_alarm(pk), now=now)
            back += 1
        except Exception:
            log.exception("could not end the shelving of alarm %s", pk)
    return back

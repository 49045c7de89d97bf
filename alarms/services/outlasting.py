"""An alarm that came back after its answer is quiet for as long as that answer counts; if it still stands then, people
are called again. Safe to run anywhere, any number of times, by several workers.
"""

import logging
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from alarms.models import Alarm
from alarms.services.escalation import LOOK_AGAIN
from alarms.services.stepping import end_shelving, lock_alarm

log = logging.getLogger(__name__)


def call_outlasted(*, now: datetime, limit: int) -> int:
    """Call for up to `limit` alarms that outlasted their answer, the longest first; how many were looked at.

    One that cannot be worked on is put back by a few minutes and logged; the rest go on.
    """
    tried = Q(shelving_try_at=None) | Q(shelving_try_at__lte=now)
    due = Alarm.objects.filter(tried, acknowledged_until__lte=now).order_by("acknowledged_until", "pk")
    chosen = list(due.values_list("pk", flat=True)[:limit])
    for pk in chosen:
        try:
            with transaction.atomic():
                end_shelving(lock_alarm(pk), now=now)
        except Exception:
            log.exception("could not call again for alarm %s", pk)
            Alarm.objects.filter(pk=pk, acknowledged_until__lte=now).update(shelving_try_at=now + LOOK_AGAIN)
    return len(chosen)

"""What time ends: shelving, and an answer that its alarm outlasted; people are called again where it still stands. Safe
to run anywhere, any number of times, by several workers.
"""

import logging
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from alarms.models import Alarm
from alarms.services.escalation import LOOK_AGAIN
from alarms.services.stepping import end_shelving, lock_alarm

log = logging.getLogger(__name__)


def end_shelving_due(*, now: datetime, limit: int) -> int:
    """Let up to `limit` alarms come back whose shelving is over, the longest over first; how many were looked at."""
    return _run_out("shelved_until", "could not end the shelving of alarm %s", now=now, limit=limit)


def call_outlasted(*, now: datetime, limit: int) -> int:
    """Call for up to `limit` alarms that outlasted their answer, the longest first; how many were looked at."""
    return _run_out("acknowledged_until", "could not call again for alarm %s", now=now, limit=limit)


def _run_out(column: str, failed: str, *, now: datetime, limit: int) -> int:
    """One that cannot be worked on is put back by a few minutes and logged; the rest go on."""
    over = Q(**{f"{column}__lte": now})
    tried = Q(shelving_try_at=None) | Q(shelving_try_at__lte=now)
    chosen = list(
        Alarm.objects.filter(tried, over).order_by(column, "pk").values_list("pk", flat=True)[:limit]
    )
    for pk in chosen:
        try:
            with transaction.atomic():
                end_shelving(lock_alarm(pk), now=now)
        except Exception:
            log.exception(failed, pk)
            Alarm.objects.filter(over, pk=pk).update(shelving_try_at=now + LOOK_AGAIN)
    return len(chosen)

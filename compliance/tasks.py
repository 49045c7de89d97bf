"""Background jobs; each only says "drain"."""

from datetime import timedelta

from celery import shared_task
from django.utils import timezone

from compliance.services import assess, overdue_digest
from equipment.services import submissions

# One worker may be all there is: after this time mail gets its turn, and judging goes on behind it.
AT_MOST = timedelta(seconds=20)


@shared_task
def assess_stale() -> None:
    """Judge whatever is stale. Woken after each request that stated something, and each minute anyway."""
    assess.drain(clock=timezone.now, at_most=AT_MOST)
    if not assess.is_drained(now=timezone.now()):
        assess_stale.apply_async(retry=False)


@shared_task
def tell_overdue() -> None:
    """Write and send the daily mails of people whose morning has come."""
    overdue_digest.tell_overdue(clock=timezone.now, at_most=AT_MOST)


@shared_task
def drop_old_answers() -> None:
    """Empty the answers under idempotency keys that were kept long enough."""
    submissions.drop_old_answers(clock=timezone.now, at_most=AT_MOST)

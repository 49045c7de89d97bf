"""Background jobs; each only says "drain"."""

from celery import shared_task
from django.utils import timezone

from compliance.services import assess


@shared_task
def assess_stale() -> None:
    """Judge whatever is stale. Woken after commit and each minute anyway."""
    assess.drain(clock=timezone.now)

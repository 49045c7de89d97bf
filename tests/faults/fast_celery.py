"""The service's own Celery app and tasks, by a clock that runs faster than the world's.

    FAST_CLOCK="1764061200.0 12" celery -A tests.faults.fast_celery worker

The tasks ask `django.utils.timezone.now` for the time and nothing else does here; so this one name is all that differs.
"""

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from django.utils import timezone

from compliance.config.celery import app

__all__ = ["START", "app", "clock_of"]
# A Wednesday morning, as in the other tests.
START = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)


def clock_of(started: float, pace: float) -> Callable[[], datetime]:
    """Begins at START at the Unix time `started`; `pace` seconds pass in each."""
    return lambda: START + timedelta(seconds=(time.time() - started) * pace)


if "FAST_CLOCK" in os.environ:
    timezone.now = clock_of(*map(float, os.environ["FAST_CLOCK"].split()))

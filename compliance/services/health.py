"""Whether the silent half of the service still works: the age of the oldest row that waits."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from alarms.queries import oldest_waiting_notice
from compliance.queries import oldest_stale

LIMIT = timedelta(minutes=5)


@dataclass(frozen=True)
class Health:
    """Ages in seconds; None when nothing waits."""

    oldest_notice_s: float | None
    oldest_stale_s: float | None

    @property
    def well(self) -> bool:
        """Whether every age is within the limit."""
        ages = [age for age in (self.oldest_notice_s, self.oldest_stale_s) if age is not None]
        return all(age <= LIMIT.total_seconds() for age in ages)


def examine(*, now: datetime) -> Health:
    """How long the oldest unsent notice and the oldest stale facility have waited."""
    notice = oldest_waiting_notice(now)
    return Health(oldest_notice_s=_age(notice, now), oldest_stale_s=_age(oldest_stale(now=now), now))


def _age(since: datetime | None, now: datetime) -> float | None:
    return None if since is None else max(0.0, (now - since).total_seconds())

"""A sender as a process of its own, to be killed: python -m tests.faults.sender [seconds that its clock runs ahead]."""

import os
import sys
from datetime import datetime, timedelta

import django


def main(ahead: timedelta) -> None:
    """Send what is due once, and end."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
    django.setup()
    from django.utils import timezone

    from alarms.services.sending import send_due

    def clock() -> datetime:
        return timezone.now() + ahead

    send_due(now=clock(), clock=clock, limit=100)


if __name__ == "__main__":
    main(timedelta(seconds=float(sys.argv[1]) if len(sys.argv) > 1 else 0))

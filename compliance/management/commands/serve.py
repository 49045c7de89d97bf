"""`manage.py serve`: database up to date, then web, worker and timetable until stopped."""

import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser

from alarms.tasks import tell
from compliance.serving import Household, commands
from compliance.tasks import assess_stale
from equipment.waking import wake


class Command(BaseCommand):
    help = "Bring the database up to date and run web, worker and timetable on this machine until stopped."

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to listen."""
        parser.add_argument(
            "--bind", default="127.0.0.1:8000", help="address and port (default: %(default)s)"
        )

    def handle(self, *args: Any, bind: str, **options: Any) -> None:
        """Start, watch, stop."""
        call_command("migrate", verbosity=0)
        household = Household(say=self.stderr.write)
        household.start(commands(bind=bind))
        for task in (assess_stale, tell):
            wake(task)  # what waits from before need not wait for the first tick as well
        self.stdout.write(f"serving {settings.PUBLIC_URL} on {bind}; health: /health; stop with Ctrl-C")
        self.stdout.flush()
        sys.exit(household.watch())

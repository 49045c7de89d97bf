"""`manage.py demo`: the main job, from nothing, in one command."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connections
from django.utils import timezone
from rich.console import Console

from compliance.demo import showing, showing_fuel, staging
from equipment.models import Organisation


class Command(BaseCommand):
    help = "Build an invented operator with six marinas, show what the rules say about them, then serve."

    def add_arguments(self, parser: CommandParser) -> None:
        """Whether and where to serve."""
        parser.add_argument("--no-serve", action="store_true", help="end after the summary")
        parser.add_argument(
            "--bind", default="127.0.0.1:8000", help="address and port (default: %(default)s)"
        )

    def handle(self, *args: Any, no_serve: bool, bind: str, **options: Any) -> None:
        """Empty database, world, summary, service."""
        console = Console(width=None if self.stdout.isatty() else 150)
        self._start_afresh()
        with console.status("building") as status:
            stage = staging.build(now=timezone.now(), progress=status.update)
        address = settings.PUBLIC_URL
        showing.show_portfolio(console, stage.facilities)
        showing.show_overdue(console, stage.overdue)
        showing.show_verdicts(console, stage.facilities)
        showing_fuel.show_fuel(console, stage.fuel)
        showing.show_mails(console, stage.alarm, settings.EMAIL_FILE_PATH)
        requests = showing.three_requests(
            address=address,
            cast=stage.cast,
            detector=stage.detector,
            alarm_at=stage.facilities[0],
            now=timezone.now(),
        )
        folder = str(settings.DATA_DIR) if no_serve else None
        showing.show_next(console, address=address, cast=stage.cast, requests=requests, folder=folder)
        wanted = showing_fuel.fuel_requests(address=address, cast=stage.cast, fuel=stage.fuel)
        showing_fuel.show_requests(console, wanted)
        if not no_serve:
            call_command("serve", bind=bind)

    def _start_afresh(self) -> None:
        """The embedded database is the demo's own and is made anew; any other one must be empty."""
        if settings.EMBEDDED:
            connections.close_all()
            for file in Path(settings.DATA_DIR).glob("register.sqlite3*"):
                file.unlink()
            for file in Path(settings.EMAIL_FILE_PATH).glob("*.log"):
                file.unlink()
        call_command("migrate", verbosity=0)
        if Organisation.objects.exists():
            raise CommandError(
                "This database is in use. The demo wants an empty one: name it in DATABASE_URL."
            )

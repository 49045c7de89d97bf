"""`manage.py add_organisation`: the first step on an empty database, and whenever a company joins."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from equipment.faults import Refusal
from equipment.management.ready import require_migrated
from equipment.models import Organisation
from equipment.services import keys
from equipment.vocabulary import KeyRole, OrganisationKind


class Command(BaseCommand):
    help = "Put an organisation on file and print a manager's key for it. The key is shown this once."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name, kind, and how long the key lives."""
        parser.add_argument("name")
        parser.add_argument("--kind", choices=OrganisationKind.values, default=OrganisationKind.OPERATOR)
        parser.add_argument(
            "--key-days", type=int, default=365, help="life of the key in days (default: %(default)s)"
        )

    def handle(self, *args: Any, name: str, kind: str, key_days: int, **options: Any) -> None:
        """Create both, say what to do next."""
        require_migrated()
        now = timezone.now()
        try:
            with transaction.atomic():
                organisation, created = Organisation.objects.get_or_create(
                    name=name, defaults={"kind": kind, "created_at": now}
                )
                if not created:
                    raise CommandError(f"{name} is on file already; make further keys with POST /api/v1/keys")
                _, secret = keys.issue_key(
                    organisation=organisation,
                    name="first key",
                    role=KeyRole.MANAGER,
                    expires_at=now + timedelta(days=key_days),
                    now=now,
                )
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{name} ({kind}) is on file as organisation {organisation.pk}.")
        self.stdout.write(f"Key, shown this once: {secret}")
        self.stdout.write("Next: import_roster brings tanks in; /api/v1/docs lists every route.")

"""`manage.py add_organisation`: the first step on an empty database, and whenever a company joins."""

from datetime import timedelta
from email.utils import parseaddr
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from alarms.services.contacts import StatedContact
from alarms.services.fallback_people import replace_fallback_people
from equipment.faults import Refusal
from equipment.management.ready import require_migrated
from equipment.models import Organisation
from equipment.services import keys
from equipment.vocabulary import KeyRole, OrganisationKind

LONGEST_NAME = 100
NOBODY = """Nobody is told of alarms yet. Name people who are told wherever no call list reaches anybody:
  curl -X PUT …/api/v1/organisations/{pk}/fallback-people -H 'Authorization: Bearer KEY' -H 'If-Match: "v0"' \\
    -H 'Content-Type: application/json' -d '{{"people": [{{"name": "R. Ames", "email": "r.ames@example.org"}}]}}'"""


class Command(BaseCommand):
    help = "Put an organisation on file and print a manager's key for it. The key is shown this once."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name, kind, whom to tell of alarms, and how long the key lives."""
        parser.add_argument("name")
        parser.add_argument("--kind", choices=OrganisationKind.values, default=OrganisationKind.OPERATOR)
        parser.add_argument(
            "--call",
            action="append",
            default=[],
            metavar="PERSON",
            help="told of alarms wherever no call list reaches anybody: 'R. Ames <r.ames@example.org>'; repeatable",
        )
        parser.add_argument(
            "--key-days", type=int, default=365, help="life of the key in days (default: %(default)s)"
        )

    def handle(
        self, *args: Any, name: str, kind: str, call: list[str], key_days: int, **options: Any
    ) -> None:
        """Create all of it, say what to do next."""
        require_migrated()
        now = timezone.now()
        people = [_person(text) for text in call]
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
                if people:
                    replace_fallback_people(
                        organisation=organisation, version=0, people=people, by="add_organisation", now=now
                    )
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{name} ({kind}) is on file as organisation {organisation.pk}.")
        self.stdout.write(f"Key, shown this once: {secret}")
        self.stdout.write(
            "It is a manager's and may do everything. Make others with POST /api/v1/keys: role gateway for a box on a "
            "dock, staff or reader for other programs."
        )
        if kind != OrganisationKind.OPERATOR:
            return
        if people:
            self.stdout.write(f"Told of alarms: {', '.join(f'{one.name} <{one.email}>' for one in people)}.")
        else:
            self.stdout.write(NOBODY.format(pk=organisation.pk))
        self.stdout.write("Next: import_roster brings tanks in; /api/v1/docs lists every route.")


def _person(text: str) -> StatedContact:
    """A person as an address of a mail is written; without a name the address stands for it."""
    name, email = parseaddr(text)
    try:
        validate_email(email)
    except ValidationError as error:
        raise CommandError(
            f"--call {text!r} is no address; write a person as 'R. Ames <r.ames@example.org>'"
        ) from error
    name = " ".join((name or email).split())
    if len(name) > LONGEST_NAME:
        raise CommandError(f"--call {text!r}: the name is longer than {LONGEST_NAME} characters")
    return StatedContact(name=name, email=email, organisation=None)

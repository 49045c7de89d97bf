"""`manage.py check_attachments`: after a restore or a disk fault, are the photos and papers what they were?"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from equipment.management.ready import require_migrated
from equipment.models import Attachment
from equipment.services.attachments import Damaged, content_of


class Command(BaseCommand):
    help = (
        "Compare every stored attachment with what is on file about it; name each that is missing or altered."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        """Changes nothing. Ends with an error when any file is damaged."""
        require_migrated()
        damaged = 0
        rows = Attachment.objects.order_by("pk")
        for attachment in rows.iterator():
            try:
                content_of(attachment)
            except Damaged as refusal:
                damaged += 1
                self.stdout.write(
                    f"attachment {attachment.pk} at facility {attachment.facility_id}, {attachment.name}: "
                    f"{refusal.detail}"
                )
        if damaged:
            raise CommandError(f"{damaged} of {rows.count()} files are damaged; restore them from a backup.")
        self.stdout.write(f"{rows.count()} files are as they were sent.")

"""Keeps photos and papers: the bytes first, then the row, so that a crash leaves an unused file at most."""

import hashlib
import logging
from collections.abc import Iterator, Sequence
from datetime import datetime

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from equipment.faults import Fault, Refusal, refuse
from equipment.media_types import SUFFIXES, media_type_of
from equipment.models import Attachment, Facility, Organisation
from equipment.services.facts import lock_facility

MAX_BYTES = 10 * 1024 * 1024
MAX_ATTACHMENTS = 20
log = logging.getLogger(__name__)


class Damaged(Refusal):
    """The facts about a file are on file, and its bytes are not what they were."""

    status = 500
    slug = "stored-file-damaged"
    title = "The stored file is missing or altered"


def keep_attachment(
    *, facility: Facility, submitted_by: Organisation, by: str, now: datetime, name: str, content: bytes
) -> tuple[Attachment, bool]:
    """The attachment and whether it is new: the same bytes at the same facility are the same attachment.

    Raises `Invalid` at `/file` for an empty or too large file, and for a kind that is not kept.
    """
    media_type = media_type_of(content) or "" if len(content) <= MAX_BYTES else ""
    refuse(_unkept(content, media_type))
    sha256 = hashlib.sha256(content).hexdigest()
    made = Attachment(
        facility=facility,
        submitted_by=submitted_by,
        recorded_at=now,
        recorded_by=by,
        name=name,
        media_type=media_type,
        size_bytes=len(content),
        sha256=sha256,
    )
    # Outside the transaction: nobody waits for a disk under a facility's lock. Also mends a damaged file.
    if not _is_whole(made):
        default_storage.save(made.stored_name, ContentFile(content))
    with transaction.atomic():
        lock_facility(facility.pk)
        known = Attachment.objects.filter(facility=facility, sha256=sha256, withdrawn_at=None)
        on_file = known.select_related("submitted_by").first()
        if on_file is not None:
            return on_file, False
        made.save()
    return made, True


def content_of(attachment: Attachment) -> bytes:
    """The bytes as they were sent; raises `Damaged` for a file that is missing or was altered in the storage."""
    content = _stored(attachment)
    if content is None or hashlib.sha256(content).hexdigest() != attachment.sha256:
        told = "missing from the storage" if content is None else "altered in the storage"
        log.error("attachment %s is %s: %s", attachment.pk, told, attachment.stored_name)
        raise Damaged(
            f"The file is {told}. Tell whoever runs the service; the original, sent again, mends it.",
            attachment=attachment.pk,
        )
    return content


def attachments_named(facility: Facility, numbers: Sequence[int]) -> dict[int, Attachment]:
    """Those of the numbers that are attachments at this facility."""
    return Attachment.objects.filter(facility=facility).in_bulk(set(numbers)) if numbers else {}


def unusable(found: dict[int, Attachment], numbers: Sequence[int], pointer: str) -> Iterator[Fault]:
    """Numbers that name nothing here, and files that were taken back. Another facility's is like none at all."""
    for index, number in enumerate(numbers):
        attachment = found.get(number)
        if attachment is None:
            yield Fault(f"{pointer}/{index}", f"no attachment {number} at this facility", "unknown")
        elif attachment.withdrawn_at is not None:
            yield Fault(
                f"{pointer}/{index}", f"was withdrawn, because: {attachment.withdrawn_reason}", "withdrawn"
            )


def _unkept(content: bytes, media_type: str) -> Iterator[Fault]:
    if not content:
        yield Fault("/file", "is empty; send the file itself", "empty")
    elif len(content) > MAX_BYTES:
        yield Fault("/file", f"has {len(content)} bytes; {MAX_BYTES} are kept at most", "too-large")
    elif not media_type:
        detail = (
            f"is none of {', '.join(SUFFIXES)} by its content; plain text is UTF-8 and does not begin with <"
        )
        yield Fault("/file", detail, "wrong-kind")


def _is_whole(attachment: Attachment) -> bool:
    content = _stored(attachment)
    return content is not None and hashlib.sha256(content).hexdigest() == attachment.sha256


def _stored(attachment: Attachment) -> bytes | None:
    try:
        with default_storage.open(attachment.stored_name) as stored:
            return bytes(stored.read())
    except FileNotFoundError:
        return None

"""Same key, same answer: a request that may be sent twice happens once.

The key and its answer are written in the transaction of the facts themselves, so that either all of it stands or none.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from equipment.faults import Conflict
from equipment.models import Organisation, Submission


class KeyReused(Conflict):
    """The key was used before, for something else."""

    slug = "idempotency-key-reused"
    title = "This Idempotency-Key belongs to another request"


@dataclass(frozen=True)
class Answer:
    """What the caller is told: HTTP status and a body that JSON can hold. `repeated` when it is an earlier answer."""

    status: int
    body: Any
    repeated: bool = False


def fingerprint(method: str, path: str, body: bytes) -> str:
    """What makes two requests the same: method, path and body, byte for byte."""
    return hashlib.sha256(b"\n".join((method.encode(), path.encode(), body))).hexdigest()


def answer_once(
    *,
    organisation: Organisation,
    key: str | None,
    fingerprint: str,
    now: datetime,
    work: Callable[[], Answer],
) -> Answer:
    """Do the work and keep its answer under the key; a repeat gets the kept answer and does nothing.

    A refusal is not kept: its transaction leaves no trace, and a mended request may use the key again.
    """
    if key is None:
        with transaction.atomic():
            return work()
    try:
        with transaction.atomic():
            # Of two at once, the second waits here for the first on PostgreSQL, and at BEGIN on SQLite.
            row = Submission.objects.create(
                organisation=organisation, key=key, fingerprint=fingerprint, received_at=now
            )
            answer = work()
            Submission.objects.filter(pk=row.pk).update(
                status=answer.status, answer=json.dumps(answer.body, ensure_ascii=False)
            )
            return answer
    except IntegrityError:
        earlier = Submission.objects.filter(organisation=organisation, key=key).first()
        if earlier is None:
            raise
    return _kept(earlier, fingerprint)


def _kept(earlier: Submission, fingerprint: str) -> Answer:
    if earlier.fingerprint != fingerprint:
        raise KeyReused(
            "Use a fresh key for new content. The earlier request and its answer stand unchanged."
        )
    return Answer(status=earlier.status or 200, body=json.loads(earlier.answer or "null"), repeated=True)

"""Same key, same answer: a request that may be sent twice happens once.

The key and its answer are written in the transaction of the facts themselves, so that either all of it stands or none.
The key is kept for good, its answer for `KEPT`: nobody repeats a request for longer, and answers are large.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction

from equipment.faults import Conflict
from equipment.models import Organisation, Submission

KEPT = timedelta(days=90)
BATCH = 500


class KeyReused(Conflict):
    """The key was used before, for something else."""

    slug = "idempotency-key-reused"
    title = "This Idempotency-Key belongs to another request"


class AnswerNotKept(Conflict):
    """The same request was taken in so long ago that what was answered is not known any more."""

    slug = "answer-no-longer-kept"
    title = "This request was taken in long ago"


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

    Raises `KeyReused` for other content under the key, `AnswerNotKept` for a repeat after the answer was dropped.

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
    if not earlier.answer:
        raise AnswerNotKept(
            f"It was taken in on {earlier.received_at.date()} and nothing was done again. Its answer was kept for "
            f"{KEPT.days} days: read what is on file, or use a fresh key to state something new."
        )
    return Answer(status=earlier.status or 200, body=json.loads(earlier.answer), repeated=True)


def drop_old_answers(*, clock: Callable[[], datetime], at_most: timedelta) -> int:
    """Empty the answers that were kept long enough, a batch in each transaction; how many. The keys stay."""
    now = clock()
    until, dropped = now + at_most, 0
    old = Submission.objects.filter(received_at__lte=now - KEPT).exclude(answer="").order_by("received_at")
    while clock() < until and (chosen := list(old.values_list("pk", flat=True)[:BATCH])):
        dropped += Submission.objects.filter(pk__in=chosen).update(answer="")
    return dropped

"""The doorway half of "same key, same answer"."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.serializers import canonical
from equipment.faults import Fault, Refusal, refuse
from equipment.models import Organisation
from equipment.services.submissions import Answer, answer_once, fingerprint

HEADER = "Idempotency-Key"
MAX_LENGTH = 200


class KeyRequired(Refusal):
    """A fact could be stated twice by a repeated request."""

    status = 428
    slug = "idempotency-key-required"
    title = "Say how a repeat is recognised"


def key_of(request: Request, *, required: bool) -> str | None:
    """The request's key. Required where the body carries no id of the sender's own."""
    key = request.headers.get(HEADER)
    if key is None and required:
        raise KeyRequired(
            f"Send {HEADER} (any text of your own, a UUID for instance), the same one when you repeat it."
        )
    if key is not None and not 0 < len(key) <= MAX_LENGTH:
        refuse([Fault("", f"{HEADER} has 1 to {MAX_LENGTH} characters", "invalid")])
    return key


def state_once(
    request: Request,
    *,
    organisation: Organisation,
    now: datetime,
    work: Callable[[], Mapping[str, Any]],
    named: bool = False,
    understood: Any = None,
) -> Response:
    """201 with what `work` put on file, once: what every doorway does that takes one fact and answers it as it stands.

    `named`: the body carries an id of the sender's own, so that the header may be left out. `understood`: the request
    as JSON where its body is none.
    """
    return respond_once(
        request,
        organisation=organisation,
        key=key_of(request, required=not named),
        body=canonical(request.data if understood is None else understood),
        now=now,
        work=lambda: Answer(201, work()),
    )


def respond_once(
    request: Request,
    *,
    organisation: Organisation,
    key: str | None,
    body: bytes,
    now: datetime,
    work: Callable[[], Answer],
) -> Response:
    """Answer the request once; a repeat gets the kept answer with `Idempotent-Replay: true`.

    `body` is the request as the view understood it, serialised: two spellings of the same content are the same request.
    """
    answer = answer_once(
        organisation=organisation,
        key=key,
        fingerprint=fingerprint(str(request.method), request.path, body),
        now=now,
        work=work,
    )
    headers = {"Idempotent-Replay": "true"} if answer.repeated else {}
    return Response(answer.body, status=answer.status, headers=headers)

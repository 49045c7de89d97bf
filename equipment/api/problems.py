"""Every error of the API as a problem document (RFC 9457), with a JSON pointer to each bad field."""

import logging
from collections.abc import Iterator, Mapping
from http import HTTPStatus

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import DataError, IntegrityError
from django.http import Http404, HttpRequest, JsonResponse
from rest_framework import exceptions
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response
from rest_framework.views import exception_handler

from equipment.api.parsers import UnreadPacking, too_large
from equipment.faults import MEND_AND_SEND, Conflict, Fault, Invalid, Refusal

MEDIA_TYPE = "application/problem+json"
TYPE_PREFIX = "urn:problem:"
MEND_AND_ASK = "Mend each parameter named in errors and ask again."
log = logging.getLogger(__name__)

_SLUGS = {
    400: ("unreadable-request", "The request cannot be read"),
    401: ("no-valid-key", "A valid key is needed"),
    403: ("not-allowed", "You may see this, but not do that"),
    404: ("not-found", "There is no such thing, or it is not yours to see"),
    405: ("method-not-allowed", "That method does not exist here"),
    406: ("not-acceptable", "Only JSON is answered"),
    411: ("length-required", "Say how long the body is"),
    413: ("too-large", "The request is too large"),
    415: ("wrong-media-type", "The body is of a kind that is not read here"),
    422: ("invalid-content", "The content cannot be accepted"),
    428: ("precondition-required", "Say which version you change"),
    429: ("too-many-requests", "Slow down"),
    500: ("our-fault", "Something broke on our side; it was logged"),
}


def document(
    status: int,
    detail: str,
    faults: tuple[Fault, ...] = (),
    slug: str = "",
    title: str = "",
    **members: object,
) -> dict[str, object]:
    """The problem document of a status; members are extra fields that the type defines."""
    known_slug, known_title = _SLUGS.get(status, ("error", HTTPStatus(status).phrase))
    body: dict[str, object] = {
        "type": TYPE_PREFIX + (slug or known_slug),
        "title": title or known_title,
        "status": status,
        "detail": detail,
    }
    if faults:
        body["errors"] = [
            {"pointer": fault.pointer, "detail": fault.detail, "code": fault.code} for fault in faults
        ]
    return body | members


def answer_problem(error: Exception, context: Mapping[str, object]) -> Response | None:
    """DRF's exception handler: our refusals and DRF's own errors in one shape; anything else stays a 500."""
    if isinstance(error, RequestDataTooBig):
        error = too_large()
    if isinstance(error, IntegrityError):
        # Two at the same moment pass the same check; the constraint lets one of them through.
        log.warning("the database refused what our checks let pass: %s", error)
        error = Conflict(
            "It contradicts what was stated meanwhile. Read again and send what is still missing."
        )
    if isinstance(error, OverflowError | DataError):
        # A net below the fields, which should have refused it with a pointer.
        log.error("a value went past every check and could not be stored", exc_info=error)
        error = Invalid("A number or a moment in it is larger than anything here can hold.")
    reading = getattr(context.get("request"), "method", "") in SAFE_METHODS
    if isinstance(error, Refusal):
        detail = MEND_AND_ASK if reading and error.detail == MEND_AND_SEND else error.detail
        body = document(error.status, detail, error.faults, error.slug, error.title, **error.members)
        return Response(body, status=error.status, content_type=MEDIA_TYPE)
    response = exception_handler(error, dict(context))
    if response is None:
        return None
    status = response.status_code
    faults: tuple[Fault, ...] = ()
    if isinstance(error, exceptions.ValidationError):
        # 422, not 400: the JSON could be read, its content is what is wrong.
        status, faults = 422, tuple(faults_of(error))
    detail = _kinds_read(error, context) or _detail(error, faults, reading=reading)
    response.data = document(status, detail, faults)
    response.status_code = status
    response.content_type = MEDIA_TYPE
    return response


def _kinds_read(error: Exception, context: Mapping[str, object]) -> str | None:
    """What the route reads, for a body of another kind."""
    if not isinstance(error, exceptions.UnsupportedMediaType) or isinstance(error, UnreadPacking):
        return None
    kinds = [str(parser.media_type) for parser in getattr(context.get("view"), "parser_classes", ())]
    return f"{error.detail} Send {' or '.join(kinds)}, as Content-Type says."


def _detail(error: Exception, faults: tuple[Fault, ...], *, reading: bool) -> str:
    if faults:
        return MEND_AND_ASK if reading else MEND_AND_SEND
    if isinstance(error, Http404):
        return "Check the address; ids of other organisations' facilities answer the same."
    if isinstance(error, PermissionDenied):
        return str(error) or "Your role here does not include this."
    return str(getattr(error, "detail", error))


def faults_of(error: exceptions.ValidationError) -> list[Fault]:
    """Every fault that serializers found, at its pointer."""
    return list(_faults(error.detail, ""))


def _faults(detail: object, pointer: str) -> Iterator[Fault]:
    """DRF keys list errors by index and objects by name: both map straight to pointers."""
    if isinstance(detail, Mapping):
        for key, inner in detail.items():
            place = "" if key == "non_field_errors" else f"/{escape(str(key))}"
            yield from _faults(inner, pointer + place)
    elif isinstance(detail, list):
        nested = any(isinstance(inner, Mapping | list) for inner in detail)
        for index, inner in enumerate(detail):
            yield from _faults(inner, f"{pointer}/{index}" if nested else pointer)
    elif isinstance(detail, exceptions.ErrorDetail):
        yield Fault(pointer, str(detail), str(detail.code))


def escape(key: str) -> str:
    """A key as one step of a JSON pointer (RFC 6901)."""
    return key.replace("~", "~0").replace("/", "~1")


def unescape(step: str) -> str:
    """The key of one step of a JSON pointer."""
    return step.replace("~1", "/").replace("~0", "~")


def not_found(request: HttpRequest, exception: Exception) -> JsonResponse:
    """For addresses that no route knows."""
    return JsonResponse(
        document(404, "No route answers this address; /api/v1/docs lists those that exist."),
        status=404,
        content_type=MEDIA_TYPE,
    )


def server_error(request: HttpRequest) -> JsonResponse:
    """For faults of ours; Django has logged the traceback."""
    return JsonResponse(
        document(500, "Send it again later; with an Idempotency-Key nothing happens twice."),
        status=500,
        content_type=MEDIA_TYPE,
    )


def bad_request(request: HttpRequest, exception: Exception) -> JsonResponse:
    """For requests that Django refuses before a view sees them."""
    log.info("refused before the view: %s", type(exception).__name__)
    return JsonResponse(
        document(400, "The request is malformed (host name, headers or encoding)."),
        status=400,
        content_type=MEDIA_TYPE,
    )

"""What operations share in the OpenAPI file: refusals as one component, Problem, and headers asked for and answered.

Which headers an operation has follows from the answers that it lists:

- 428 with 412: it wants `If-Match`, the version that is changed, and answers the new `ETag`, as reading it does
- 428 alone: it wants an `Idempotency-Key`, unless its parameters name `KEY_IF_UNNAMED`; a repeat is marked
- 304: it takes `If-None-Match`
- 401 and 429 say how to sign in, and when to come back
"""

from http import HTTPStatus
from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse, extend_schema_serializer
from rest_framework import serializers

from equipment.api import idempotency
from equipment.api.problems import MEDIA_TYPE, document
from equipment.faults import Fault

# Whoever asks anything can meet these: no valid key, and too many requests.
ALWAYS = (401, 429)

TEXT = {"type": "string"}
KEY: dict[str, Any] = {
    "name": idempotency.HEADER,
    "in": "header",
    "required": True,
    "schema": TEXT | {"minLength": 1, "maxLength": idempotency.MAX_LENGTH},
    "description": "Any text of your own, a UUID for instance; the same one when you repeat the request, which then "
    "happens once.",
}
# For operations whose body may carry an id of the sender's own instead.
KEY_IF_UNNAMED = OpenApiParameter(
    idempotency.HEADER,
    type=KEY["schema"],
    location=OpenApiParameter.HEADER,
    description=f"{KEY['description']} May be left out where the body carries an id of your own.",
)
VERSION = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "schema": TEXT,
    "description": "The `ETag` of your last read, or `*`.",
}
KNOWN = {
    "name": "If-None-Match",
    "in": "header",
    "schema": TEXT,
    "description": "The `ETag` of what you have; 304 where it still is the same.",
}
HEADERS: dict[str, dict[str, Any]] = {
    "ETag": {"schema": TEXT, "description": "Names this version."},
    "Idempotent-Replay": {
        "schema": {"type": "string", "const": "true"},
        "description": "Only on the kept answer to a request that came before: nothing happened now.",
    },
    "Retry-After": {"schema": {"type": "integer", "minimum": 0}, "description": "Seconds to wait."},
    "WWW-Authenticate": {"schema": TEXT, "description": "How to sign in."},
}


@extend_schema_serializer(component_name="ProblemError")
class ProblemErrorSerializer(serializers.Serializer[Any]):
    """One thing wrong in what was sent."""

    pointer = serializers.CharField(
        help_text="JSON pointer (RFC 6901) into the body sent; empty: the whole body", allow_blank=True
    )
    detail = serializers.CharField(help_text="what is wrong and how to mend it")
    code = serializers.CharField(help_text="a stable word for programs")


@extend_schema_serializer(component_name="Problem")
class ProblemSerializer(serializers.Serializer[Any]):
    """A problem document (RFC 9457). A type may add members of its own."""

    type = serializers.CharField(help_text="names the kind of problem; stable: urn:problem:...")
    title = serializers.CharField(help_text="the same words for every problem of this type")
    status = serializers.IntegerField(help_text="the HTTP status again")
    detail = serializers.CharField(help_text="what happened here and what to do")
    # DRF takes declared fields off the class, so its own `errors` stays as it was.
    errors = ProblemErrorSerializer(many=True, required=False)  # type: ignore[assignment]


def problem_responses(*statuses: int) -> dict[Any, Any]:
    """The refusals of an operation, to merge into `responses`: `{200: Answer, **problem_responses(404, 422)}`.

    401 and 429 are always among them; name 400, 413 and 415 with `body_problems()` where a body is read.
    """
    return {(status, MEDIA_TYPE): _answer(status) for status in sorted({*statuses, *ALWAYS})}


def body_problems(*statuses: int) -> dict[Any, Any]:
    """As `problem_responses`, with those that any JSON body can meet: 400, 413, 415 and 422."""
    return problem_responses(400, 413, 415, 422, *statuses)


def _answer(status: int) -> OpenApiResponse:
    faults = (Fault("/name", "This field is required.", "required"),) if status == 422 else ()
    example = document(status, "What happened here, and what to do.", faults)
    return OpenApiResponse(
        ProblemSerializer,
        description=HTTPStatus(status).phrase,
        examples=[OpenApiExample(HTTPStatus(status).phrase, value=example, media_type=MEDIA_TYPE)],
    )


def name_headers(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """A hook of drf-spectacular: each operation names its headers. Runs before `share_problems`."""
    for path in result["paths"].values():
        versioned = any({"412", "428"} <= operation["responses"].keys() for operation in path.values())
        for verb, operation in path.items():
            _name_headers(operation, readable=versioned and verb == "get")
    result["components"]["headers"] = HEADERS
    return result


def _name_headers(operation: dict[str, Any], *, readable: bool) -> None:
    answers, parameters = operation["responses"], operation.setdefault("parameters", [])
    versioned, conditional = {"412", "428"} <= answers.keys(), "304" in answers
    if versioned:
        parameters.append(VERSION)
    elif "428" in answers and not _takes_key(parameters):
        parameters.append(KEY)
    if conditional:
        parameters.append(KNOWN)
    for status, answer in answers.items():
        if status < "400" and (versioned or conditional or readable):
            _answer_with(answer, "ETag")
        if status.startswith("2") and _takes_key(parameters):
            _answer_with(answer, "Idempotent-Replay")
        if status == "401":
            _answer_with(answer, "WWW-Authenticate")
        if status == "429":
            _answer_with(answer, "Retry-After")
    if not parameters:
        del operation["parameters"]


def _takes_key(parameters: list[dict[str, Any]]) -> bool:
    return any(one["name"] == idempotency.HEADER for one in parameters)


def _answer_with(answer: dict[str, Any], header: str) -> None:
    answer.setdefault("headers", {})[header] = {"$ref": f"#/components/headers/{header}"}


def share_problems(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """A hook of drf-spectacular: each refusal stands once under components, and operations refer to it."""
    shared: dict[str, Any] = {}
    for path in result["paths"].values():
        for operation in path.values():
            for status, answer in operation["responses"].items():
                if MEDIA_TYPE in answer.get("content", {}):
                    shared[f"Problem{status}"] = answer
                    operation["responses"][status] = {"$ref": f"#/components/responses/Problem{status}"}
    result["components"]["responses"] = dict(sorted(shared.items()))
    return result

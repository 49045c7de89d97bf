"""How refusals are described in the OpenAPI file: one component, Problem, and its answer for each status."""

from http import HTTPStatus
from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema_serializer
from rest_framework import serializers

from equipment.api.problems import MEDIA_TYPE, document
from equipment.faults import Fault

# Whoever asks anything can meet these: no valid key, and too many requests.
ALWAYS = (401, 429)


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

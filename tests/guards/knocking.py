"""Every operation that writes, with the body that its description shows: what guards knock with."""

import json
import re
from functools import cache
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from drf_spectacular.generators import SchemaGenerator

from tests.guards.routes import Route, routes

WRITINGS = [(route, verb) for route in routes() for verb in route.verbs if verb != "GET"]


@cache
def description() -> dict[str, Any]:
    """The OpenAPI document."""
    return dict(SchemaGenerator().get_schema(request=None, public=True))


def operation(route: Route, verb: str) -> dict[str, Any]:
    path = "/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route.template)
    return dict(description()["paths"][path][verb.lower()])


def example(route: Route, verb: str) -> tuple[str, Any]:
    """The media type of a body that the operation takes, and the body; {} where it takes none."""
    content = operation(route, verb).get("requestBody", {}).get("content", {})
    for media_type, body in content.items():
        for shown in body.get("examples", {}).values():
            return media_type, shown["value"]
    return "application/json", {}


def knock(client, route: Route, verb: str, ids: dict[str, Any], headers: dict[str, str]):
    """The answer to that body; what the request changed is taken back, so that the next one meets the same site."""
    media_type, body = example(route, verb)
    with transaction.atomic():
        answer = client.generic(
            verb,
            route.filled(ids),
            _encoded(media_type, body),
            content_type=MULTIPART_CONTENT if media_type == "multipart/form-data" else media_type,
            headers=headers,
        )
        transaction.set_rollback(True)
    return answer


def _encoded(media_type: str, body: Any) -> str | bytes:
    if media_type == "multipart/form-data":
        file = SimpleUploadedFile("example.csv", body["file"].encode())
        return encode_multipart(BOUNDARY, body | {"file": file})
    return json.dumps(body) if media_type == "application/json" else str(body)

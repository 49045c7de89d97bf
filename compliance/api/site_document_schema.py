"""The published JSON Schema of the site document; the same for everybody, without a key."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from compliance.api.examples import example
from compliance.rules.document_examples import worked_examples
from compliance.rules.document_schema import IDENTITY, document_schema


def published_schema() -> dict[str, Any]:
    """The schema with one worked example for each kind of component."""
    return document_schema() | {"examples": worked_examples()}


class SiteDocumentSchema(APIView):
    """What a site document may hold."""

    authentication_classes = ()
    permission_classes = ()

    @extend_schema(
        operation_id="get_site_document_schema",
        tags=["judging"],
        summary="The JSON Schema of the site document, with an example for each kind of component",
        description="JSON Schema 2020-12. Needs no key.",
        auth=[],
        responses={200: OpenApiTypes.OBJECT},
        examples=[
            example(
                "How it begins",
                {
                    "$schema": "https://json-schema.org/draft/2020-12/schema",
                    "$id": IDENTITY,
                    "title": "Site document",
                    "$ref": "#/$defs/Document",
                },
            )
        ],
    )
    def get(self, request: Request) -> Response:
        """The schema."""
        return Response(published_schema())

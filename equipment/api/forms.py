"""Answers that are a table, a picture or a page, each at an address of its own."""

from collections.abc import Sequence
from typing import Any

from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request


class _TextRenderer(BaseRenderer):
    """A text as it is; a problem document as JSON."""

    def render(self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None) -> bytes:
        """Bytes in UTF-8."""
        if isinstance(data, str):
            return data.encode()
        return bytes(JSONRenderer().render(data, renderer_context=renderer_context))


class CsvRenderer(_TextRenderer):
    """A table (RFC 4180)."""

    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"


class SvgRenderer(_TextRenderer):
    """A picture."""

    media_type = "image/svg+xml"
    format = "svg"
    charset = None


class HtmlRenderer(_TextRenderer):
    """A page to read and to print."""

    media_type = "text/html"
    format = "html"
    charset = "utf-8"


class OneForm:
    """For a view whose address says which form is answered: a link works whatever a browser would rather have."""

    renderer_classes: Sequence[type[BaseRenderer]]

    def perform_content_negotiation(self, request: Request, force: bool = False) -> tuple[Any, str]:
        """The one renderer."""
        renderer = self.renderer_classes[0]()
        return renderer, renderer.media_type

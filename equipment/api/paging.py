"""Lists are paged by cursor: stable while rows arrive, and as fast on page 900 as on page 1."""

import re
from base64 import b64decode
from typing import Any
from urllib.parse import parse_qsl

from rest_framework.exceptions import ValidationError
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request

from equipment.api.scalars import MAX_ID

_FORM = {"o": re.compile(r"[0-9]{1,9}"), "r": re.compile("1"), "p": re.compile(r"-?[0-9]{1,19}")}


class NewestFirst(CursorPagination):
    """Ordered by id, newest first; `limit` rows a page, 50 unless told, 200 at most.

    Subclasses order by whole numbers too, since a cursor is read as such.
    """

    ordering: str | tuple[str, ...] = "-pk"
    page_size = 50
    page_size_query_param = "limit"
    max_page_size = 200

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """DRF's own, with addresses such as ours in its examples (a host that RFC 2606 keeps for examples)."""
        described = super().get_paginated_response_schema(schema)
        for name, cursor in (("next", "cD00ODY%3D"), ("previous", "cj0xJnA9NDg3")):
            described["properties"][name]["example"] = (
                f"https://example.org/api/v1/facilities?cursor={cursor}"
            )
        return dict(described)

    def decode_cursor(self, request: Request) -> Cursor | None:
        """The place that the cursor names; ValidationError at /cursor for one that no answer gave.

        An offset, needed where many rows share a position, is not cut off: cut off, page after page would repeat.
        """
        encoded = request.query_params.get(self.cursor_query_param)
        return None if encoded is None else _read(encoded)


class OldestFirst(NewestFirst):
    """Ordered by id, oldest first."""

    ordering = "pk"


def foreign_cursor() -> ValidationError:
    """The refusal of a cursor that no answer gave, the same in every list."""
    return ValidationError(
        {"cursor": "Take the cursor from `next` or `previous` of an answer."}, code="invalid"
    )


def _read(encoded: str) -> Cursor:
    try:
        text = b64decode(encoded.encode("ascii"), validate=True).decode("ascii")
        pairs = parse_qsl(text, strict_parsing=True, keep_blank_values=True)
    except ValueError as error:
        raise foreign_cursor() from error
    parts: dict[str, Any] = dict(pairs)
    known = all(name in _FORM and _FORM[name].fullmatch(part) for name, part in pairs)
    if not pairs or not known or len(parts) < len(pairs) or abs(int(parts.get("p", 0))) > MAX_ID:
        raise foreign_cursor()
    return Cursor(offset=int(parts.get("o", 0)), reverse="r" in parts, position=parts.get("p"))

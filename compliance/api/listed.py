"""Pages of a list that is worked out for the request: the same shape as every other list."""

import re
from typing import Any

from rest_framework.pagination import LimitOffsetPagination
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.paging import foreign_cursor


class WorkedOut(LimitOffsetPagination):
    """`limit` rows a page, 50 unless told, 200 at most; `cursor` comes from `next` or `previous` of an answer."""

    default_limit = 50
    max_limit = 200
    offset_query_param = "cursor"
    offset_query_description = "from `next` or `previous` of an answer"
    limit_query_description = "rows a page; 50 unless told, 200 at most"

    def get_offset(self, request: Request) -> int:
        """Where the page begins; ValidationError for a cursor that no answer gave, as in every other list."""
        cursor = request.query_params.get(self.offset_query_param, "0")
        if not re.fullmatch(r"[0-9]{1,9}", cursor):
            raise foreign_cursor()
        return int(cursor)

    def get_paginated_response(self, data: Any) -> Response:
        """The page with its neighbours."""
        return Response({"next": self.get_next_link(), "previous": self.get_previous_link(), "results": data})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """As other lists are described."""
        link = {
            "type": ["string", "null"],
            "format": "uri",
            "example": "https://marina.example/api/v1/...?cursor=50",
        }
        properties = {"next": link, "previous": link, "results": schema}
        return {"type": "object", "required": ["results"], "properties": properties}

"""Lists are paged by cursor: stable while rows arrive, and as fast on page 900 as on page 1."""

from rest_framework.pagination import CursorPagination


class NewestFirst(CursorPagination):
    """Ordered by id, newest first; `limit` rows a page, 50 unless told, 200 at most."""

    ordering: str | tuple[str, ...] = "-pk"
    page_size = 50
    page_size_query_param = "limit"
    max_page_size = 200


class OldestFirst(NewestFirst):
    """Ordered by id, oldest first."""

    ordering = "pk"

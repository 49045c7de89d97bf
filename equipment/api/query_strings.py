"""Query strings, checked as strictly as bodies: a filter that is misspelt is refused, not ignored."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request

from equipment.api.serializers import StrictSerializer


class StrictQuery(StrictSerializer):
    """A query string. Errors point at the parameter's name."""


class PagedQuery(StrictQuery):
    """A query string of a paged list; the pager itself reads these two."""

    cursor = serializers.CharField(required=False, help_text="from `next` or `previous` of an answer")
    limit = serializers.IntegerField(
        required=False, min_value=1, max_value=200, help_text="rows a page; 50 unless told"
    )


def checked_query(shape: type[StrictQuery], request: Request) -> dict[str, Any]:
    """The parameters sent, each checked; of a parameter sent twice the last counts."""
    asked = shape(data=request.query_params.dict())
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)

"""Versions of register rows as entity tags: read with ETag, change with If-Match, never overwrite unseen."""

from django.utils.http import quote_etag
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.faults import Refusal, Stale


class PreconditionRequired(Refusal):
    """A change without If-Match could overwrite what somebody else just wrote."""

    status = 428
    slug = "precondition-required"
    title = "Say which version you change"


def tag_of(version: int) -> str:
    """A strong entity tag."""
    return quote_etag(f"v{version}")


def tagged(response: Response, version: int) -> Response:
    """The answer with the row's ETag on it."""
    response.headers["ETag"] = tag_of(version)
    return response


def check_match(request: Request, version: int) -> None:
    """Refuse unless If-Match names the row's present version (or `*`). Weak tags never match (RFC 9110, 13.1.1)."""
    header = request.headers.get("If-Match")
    if header is None:
        raise PreconditionRequired(f"Send If-Match: {tag_of(version)} from the ETag of your last read.")
    if header.strip() != "*" and tag_of(version) not in [one.strip() for one in header.split(",")]:
        raise Stale("Read it again, look at what changed, and send your change with the new ETag.")

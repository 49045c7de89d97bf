"""What the pages behind links in mails share."""

from http import HTTPStatus
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from alarms.services.links import LinkExpired, LinkInvalid

EXPIRED = (
    "This link has expired. Open the newest mail about this alarm, or answer it with a key of your organisation "
    "(POST /api/v1/alarms/NUMBER/acknowledgement)."
)
INVALID = (
    "This link is not valid. It may have been cut off by the mail program: copy the whole address from the mail. "
    "It also ends when your organisation's access to the facility does."
)


def refused(request: HttpRequest, error: LinkInvalid) -> HttpResponse:
    """Says why the link does nothing."""
    gone = isinstance(error, LinkExpired)
    status = HTTPStatus.GONE if gone else HTTPStatus.NOT_FOUND
    return page(request, "link_refused", {"text": EXPIRED if gone else INVALID}, status)


def page(
    request: HttpRequest, name: str, context: dict[str, Any], status: int = HTTPStatus.OK
) -> HttpResponse:
    """A page whose address is a key: it goes neither to other sites nor into a search index."""
    response = render(request, f"alarms/{name}.html", context, status=status)
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    response.headers["Content-Security-Policy"] = (
        "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )
    return response

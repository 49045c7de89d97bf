"""The page behind the link in a mail. Opening it changes nothing; only its button does."""

from http import HTTPStatus
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from alarms.services.answer_pages import Opened, open_link
from alarms.services.answering import acknowledge
from alarms.services.links import LinkExpired, LinkInvalid
from alarms.services.mail import alarm_context

MAX_NOTE = 2000
EXPIRED = "This link has expired. Open the newest mail about this alarm, or sign in and acknowledge there."
INVALID = (
    "This link is not valid. It may have been cut off by the mail program: copy the whole address from the mail. "
    "It also ends when your organisation's access to the facility does."
)


# The signed link itself is what no other site can know; a cookie would only lock out mail programs that keep none.
@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, token: str) -> HttpResponse:
    """GET shows the alarm, POST acknowledges it and shows it again (303, so that a reload sends nothing)."""
    now = timezone.now()
    try:
        opened = open_link(token, now=now)
    except LinkInvalid as error:
        gone = isinstance(error, LinkExpired)
        text = EXPIRED if gone else INVALID
        return _page(
            request, "link_refused", {"text": text}, HTTPStatus.GONE if gone else HTTPStatus.NOT_FOUND
        )
    if request.method != "POST":
        return _page(request, "answer", _shown(opened))
    if not opened.may_answer:
        return _page(request, "answer", _shown(opened), HTTPStatus.FORBIDDEN)
    note = " ".join(request.POST.get("note", "").replace("\x00", "").split())[:MAX_NOTE]
    acknowledge(alarm=opened.alarm, by=opened.person, note=note or None, now=now)
    return HttpResponseRedirect(request.path, status=HTTPStatus.SEE_OTHER)


def _shown(opened: Opened) -> dict[str, Any]:
    return alarm_context(opened.alarm) | {"opened": opened, "max_note": MAX_NOTE}


def _page(
    request: HttpRequest, name: str, context: dict[str, Any], status: int = HTTPStatus.OK
) -> HttpResponse:
    response = render(request, f"alarms/{name}.html", context, status=status)
    # The address is a key: it goes neither to other sites nor into a search index.
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    response.headers["Content-Security-Policy"] = (
        "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )
    return response

"""Wakes judging when a request may have stated a fact: one place for every doorway of every app."""

from collections.abc import Callable
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse

from compliance.tasks import assess_stale
from equipment.waking import wake

READS = {"GET", "HEAD", "OPTIONS"}


class WakeJudging:
    """Middleware. The apps below know nothing of judging, so their doorways cannot wake it themselves."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer first; a wake-up that fails is logged and changes no answer."""
        response = self.get_response(request)
        if request.method not in READS and _may_have_stored(response) and request.path.startswith("/api/"):
            wake(assess_stale)
        return response


def _may_have_stored(response: HttpResponse) -> bool:
    """True for a conflict too: events beside a reused id were taken in, and a raise under it moved its alarm."""
    return response.status_code < 400 or response.status_code == HTTPStatus.CONFLICT

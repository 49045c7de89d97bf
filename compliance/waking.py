"""Wakes judging when a request may have stated a fact: one place for every doorway of every app."""

from collections.abc import Callable

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
        if request.method not in READS and response.status_code < 400 and request.path.startswith("/api/"):
            wake(assess_stale)
        return response

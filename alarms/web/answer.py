"""The pages behind the links in a mail. Opening one changes nothing; only its buttons do."""

from http import HTTPStatus
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from alarms.services.answer_lists import OpenedList, acknowledge_listed, open_list
from alarms.services.answer_pages import Opened, open_link
from alarms.services.answering import acknowledge
from alarms.services.links import LinkInvalid
from alarms.services.mail import alarm_context
from alarms.web.pages import page, refused

MAX_NOTE = 2000
ALIKE = "alike"


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
        return refused(request, error)
    if request.method != "POST":
        return page(request, "answer", _shown(opened))
    if opened.exercised or not opened.may_answer:
        return page(request, "answer", _shown(opened), HTTPStatus.FORBIDDEN)
    note = " ".join(request.POST.get("note", "").replace("\x00", "").split())[:MAX_NOTE]
    acknowledge(alarm=opened.alarm, by=opened.person, note=note or None, now=now)
    return HttpResponseRedirect(request.path, status=HTTPStatus.SEE_OTHER)


@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer_together(request: HttpRequest, token: str) -> HttpResponse:
    """GET lists the alarms of a shared mail; POST acknowledges the one whose button was pressed, or those that may be
    answered together, and shows the list again."""
    now = timezone.now()
    try:
        opened = open_list(token, now=now)
    except LinkInvalid as error:
        return refused(request, error)
    if request.method != "POST":
        return page(request, "answer_together", _listed(opened))
    asked = request.POST.get("alarms", "")
    if asked == ALIKE:
        acknowledge_listed(opened, opened.alike, now=now)
        return HttpResponseRedirect(request.path, status=HTTPStatus.SEE_OTHER)
    pressed = [
        line
        for line in opened.lines
        if line.may_answer and not line.exercised and str(line.entry.alarm.pk) == asked
    ]
    if not pressed:
        return page(request, "answer_together", _listed(opened), HTTPStatus.FORBIDDEN)
    acknowledge_listed(opened, pressed, now=now)
    return HttpResponseRedirect(f"{request.path}#a{asked}", status=HTTPStatus.SEE_OTHER)


def _shown(opened: Opened) -> dict[str, Any]:
    return alarm_context(opened.alarm) | {"opened": opened, "max_note": MAX_NOTE}


def _listed(opened: OpenedList) -> dict[str, Any]:
    cautions = (caution.text for line in opened.lines for caution in line.entry.condition.cautions)
    return {
        "opened": opened,
        "waiting": sum(line.waits for line in opened.lines),
        "cautions": list(dict.fromkeys(cautions)),
    }

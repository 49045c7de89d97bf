"""The alarms of a facility over a span for whoever inspects it: as an answer, a table and a page to print."""

from typing import ClassVar
from zoneinfo import ZoneInfo

from django.template.loader import render_to_string
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.figure_shapes import SpanQuery
from alarms.api.tables import attachment, table
from alarms.services.mail import local
from compliance.api.alarm_history_examples import HISTORY
from compliance.api.alarm_history_shapes import AlarmHistoryOut
from compliance.services.alarm_history import AlarmHistory, alarm_history
from compliance.services.alarm_history_words import Item, worded
from equipment.activities.catalogue import standing_caution
from equipment.api.forms import CsvRenderer, HtmlRenderer, OneForm
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right

DESCRIPTION = (
    "Every alarm that was raised in the span, stood in it, or had not been answered before it: what happened, who was "
    "told and when, who did what, which clock of the law ran until when, and what was filed. Clocks are judged now, "
    "by all that is on file today. What is not on file is said to be missing; it is no agency's finding."
)
PARTS = (
    "Exercise",
    "Raised",
    "Cleared",
    "Told",
    "Answered",
    "Disposition",
    "Stated besides",
    "Clock of the law",
    "Photos and papers",
    "Filed",
)
# The page carries its own style and nothing else; what people wrote into it can load, run or send nothing.
PAGE_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow",
    "Cache-Control": "private, no-store",
}


class FacilityAlarmHistory(ScopedView):
    """The list."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = SpanQuery

    @extend_schema(
        operation_id="get_alarm_history",
        tags=["history"],
        summary="Every alarm of a span with cause, action, time and person",
        description=DESCRIPTION,
        parameters=[SpanQuery],
        responses={200: AlarmHistoryOut, **problem_responses(403, 404, 422)},
        examples=[OpenApiExample("one alarm", value=HISTORY, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The list."""
        return Response(AlarmHistoryOut(self.history(facility_id)).data)

    def history(self, facility_id: int) -> AlarmHistory:
        """What was asked for."""
        facility = self.facility_or_404(facility_id)
        span = SpanQuery.span(self.asked, self.now)
        return alarm_history(facility, span, made_for=self.actor.name)


class FacilityAlarmHistoryTable(OneForm, FacilityAlarmHistory):
    """The same as a table."""

    renderer_classes = (CsvRenderer,)

    @extend_schema(
        operation_id="read_alarm_history_table",
        tags=["history"],
        summary="Every alarm of a span as CSV, a line for each",
        description="Several things under one heading are parted by ' | '. Times are the facility's own.",
        parameters=[SpanQuery],
        responses={(200, "text/csv"): OpenApiTypes.STR, **problem_responses(403, 404, 422)},
        examples=[
            OpenApiExample(
                "shortened",
                value="alarm,what,where,about,raised\r\n12,Liquid in a sump,Containment sump SU1,...\r\n",
                response_only=True,
                media_type="text/csv",
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """CSV text."""
        history = self.history(facility_id)
        columns = ("alarm", "what", "where", "about", *(part.lower().replace(" ", "_") for part in PARTS))
        rows = []
        for one in worded(history):
            parts = {part.name: " | ".join(map(_in_cell, part.items)) for part in one.parts}
            rows.append([one.number, one.title, one.place, one.about, *(parts.get(name) for name in PARTS)])
        name = attachment(f"alarm-history-{history.facility.pk}", self.now)
        return Response(table(columns, rows), headers={"Content-Disposition": name})


class FacilityAlarmHistoryPage(OneForm, FacilityAlarmHistory):
    """The same as a page."""

    renderer_classes = (HtmlRenderer,)

    @extend_schema(
        operation_id="read_alarm_history_page",
        tags=["history"],
        summary="Every alarm of a span as a page to read and to print",
        description="HTML with its own style and no scripts. Times are the facility's own.",
        parameters=[SpanQuery],
        responses={(200, "text/html"): OpenApiTypes.STR, **problem_responses(403, 404, 422)},
        examples=[
            OpenApiExample(
                "shortened",
                value="<!doctype html><html lang='en'>...</html>",
                response_only=True,
                media_type="text/html",
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """HTML text."""
        history = self.history(facility_id)
        zone = ZoneInfo(history.facility.time_zone)
        context = {
            "history": history,
            "facility": history.facility,
            "first": local(history.first_at, zone),
            "until": local(history.until_at, zone),
            "made": local(history.made_at, zone),
            "alarms": worded(history),
            "caution": standing_caution().text,
        }
        return Response(render_to_string("compliance/alarm_history.html", context), headers=PAGE_HEADERS)


def _in_cell(item: Item) -> str:
    text = f"{item.text} ({item.note})" if item.note else item.text
    return f"WITHDRAWN: {text}" if item.gone else text

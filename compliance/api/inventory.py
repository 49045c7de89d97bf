"""Months of a ledger reconciled and closed, and the trend as figures and as a picture."""

import re
from datetime import date, timedelta
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.http import Http404, HttpResponse
from django.urls import URLPattern, path
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.inventory_picture import trend_picture
from compliance.api.inventory_shapes import InventoryMonthOut, InventoryTrendOut, MonthClosedOut
from compliance.api.record_shapes import moved_fields
from compliance.api.records import records_with_all
from compliance.services.inventory import close_month, month_of
from compliance.services.inventory_trend import Trend, trend_of
from equipment.api.fields import DayField
from equipment.api.forms import OneForm, SvgRenderer
from equipment.api.idempotency import key_of, respond_once
from equipment.api.inventory_days import LedgerView
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import WordField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer, canonical
from equipment.faults import Fault, refuse
from equipment.models import Component, Facility
from equipment.services.submissions import Answer
from equipment.tenancy import Right
from equipment.vocabulary import LedgerBasis

YEAR = timedelta(days=365)
LONGEST = timedelta(days=3 * 366)
RULE: dict[str, Any] = {
    "jurisdiction": "us-federal",
    "period": "calendar month",
    "first": "2026-03-01",
    "last": "2026-03-31",
    "percent": 1.0,
    "constant_gal": 130.0,
    "counts": "over and short",
    "periods_to_report": 2,
    "allowance_gal": 271.71,
    "net_gal": -67.0,
    "exceeded": False,
    "action": "none",
    "passed_over": [],
    "cite": "40 CFR 280.43(a); 280.50(c)(2): a second month in a row",
    "verified": "VS",
}
CLOSED: dict[str, Any] = {
    "record": {"id": 88, "activity": "inventory-month", "subjects": ["T1"]},
    "month": {"rules": [RULE]},
    "moved": [],
    "remark": None,
}
TREND: dict[str, Any] = {
    "first": "2026-03-01",
    "last": "2026-03-31",
    "gal_per_day": -2.2,
    "gal_per_hour": -0.09,
    "days": [{"on": "2026-03-01", "over_short_gal": -3.0, "month_gal": -3.0, "running_gal": -3.0}],
    "periods": [RULE],
}


class MonthQuery(StrictQuery):
    """How to show the month."""

    basis = WordField(
        choices=LedgerBasis.choices,
        default=LedgerBasis.STICK,
        help_text="what each day opens with: the reading of the day before, or its book; both end the same",
    )


class _MonthView(LedgerView):
    def month_or_404(self, text: str) -> date:
        """The first day of a month written 2026-03."""
        if not re.fullmatch(r"(19|20|21|22)\d\d-(0[1-9]|1[0-2])", text):
            raise Http404
        return date.fromisoformat(f"{text}-01")


class InventoryMonth(_MonthView):
    """A month of a ledger, reckoned now."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = MonthQuery

    @extend_schema(
        operation_id="get_inventory_month",
        tags=["inventory"],
        summary="A month of a ledger, reconciled under each jurisdiction's rule",
        description="Percentage, constant, what counts, period and how many in a row are reported come from the rules "
        "of the facility's jurisdictions. Gallons are gross: what temperature may explain stands beside and changes "
        "no figure. `closed` is the record that closed the month; `out_of_date` asks to close it again.",
        parameters=[MonthQuery],
        responses={200: InventoryMonthOut, **problem_responses(404, 422)},
        examples=[OpenApiExample("A rule over a month", value={"rules": [RULE]}, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, tag: str, month: str) -> Response:
        """The month; incomplete ones say what is missing."""
        facility, component = self.ledger_or_404(facility_id, tag)
        found = month_of(
            facility, component, self.month_or_404(month), now=self.now, basis=self.asked["basis"]
        )
        return Response(InventoryMonthOut(found).data)


class InventoryReconciliation(_MonthView):
    """Closing a month."""

    rights: ClassVar = {"POST": Right.RECORD}

    @extend_schema(
        operation_id="close_inventory_month",
        tags=["inventory"],
        summary="Close a month: put its record on file and judge",
        description="Refused while days are missing or to come. The same figures again change nothing (200). After a "
        "correction of the ledger the month is closed again and the record supersedes the earlier one. The body is "
        "empty: {}.",
        request=StrictSerializer,
        responses={200: MonthClosedOut, 201: MonthClosedOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("Closed", value=CLOSED, response_only=True, status_codes=["200", "201"])],
    )
    def post(self, request: Request, facility_id: int, tag: str, month: str) -> Response:
        """The record and what it moved."""
        facility, component = self.ledger_or_404(facility_id, tag)
        first = self.month_or_404(month)
        organisation = self.organisation_at(facility)
        StrictSerializer(data=request.data).is_valid(raise_exception=True)

        def work() -> Answer:
            done = close_month(
                facility=facility,
                component=component,
                month=first,
                organisation=organisation,
                by=self.actor.name,
                now=self.now,
            )
            record = records_with_all().get(pk=done.record.pk)
            moved = moved_fields(done.moves) if done.fresh else {"moved": [], "remark": None}
            shown = {"record": record, "month": month_of(facility, component, first, now=self.now)} | moved
            return Answer(201 if done.fresh else 200, dict(MonthClosedOut(shown).data))

        return respond_once(
            request,
            organisation=organisation,
            key=key_of(request, required=True),
            body=canonical(request.data),
            now=self.now,
            work=work,
        )


class TrendQuery(StrictQuery):
    """Which days."""

    first = DayField(required=False, help_text="a year before the last, unless told")
    last = DayField(required=False, help_text="itself included; today at the site unless told")


class InventoryTrend(LedgerView):
    """Over and short through time."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = TrendQuery

    @extend_schema(
        operation_id="get_inventory_trend",
        tags=["inventory"],
        summary="Over and short of a ledger from day to day, with what each period may be off",
        description="At most three years. The slope is the eye's aid, not a leak test.",
        parameters=[TrendQuery],
        responses={200: InventoryTrendOut, **problem_responses(404, 422)},
        examples=[OpenApiExample("A trend", value=TREND, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, tag: str) -> Response | HttpResponse:
        """The figures."""
        facility, component = self.ledger_or_404(facility_id, tag)
        return Response(InventoryTrendOut(self.trend(facility, component)).data)

    def trend(self, facility: Facility, component: Component) -> Trend:
        """The days that were asked for."""
        today = self.now.astimezone(ZoneInfo(facility.time_zone)).date()
        last = self.asked.get("last", today)
        first = self.asked.get("first", (last - YEAR).replace(day=1))
        if not timedelta(0) <= last - first <= LONGEST:
            refuse([Fault("/first", "lies after last, or more than three years before it", "order")])
        return trend_of(facility, component, first, last)


class InventoryTrendPicture(OneForm, InventoryTrend):
    """The same as a picture."""

    renderer_classes = (SvgRenderer,)

    @extend_schema(
        operation_id="get_inventory_trend_picture",
        tags=["inventory"],
        summary="The trend as a picture (SVG)",
        description="The month's sum from day to day inside the band that it may move in; months over their limit "
        "are marked and listed in words. It fits a phone and a desk.",
        parameters=[TrendQuery],
        responses={
            (200, "image/svg+xml"): OpenApiResponse(OpenApiTypes.STR, description="a picture"),
            **problem_responses(404, 422),
        },
        examples=[
            OpenApiExample(
                "a picture (shortened)",
                value='<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 600"/>',
                media_type="image/svg+xml",
                response_only=True,
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request, facility_id: int, tag: str) -> HttpResponse:
        """The drawing."""
        facility, component = self.ledger_or_404(facility_id, tag)
        drawing = trend_picture(
            self.trend(facility, component), f"{facility.name}, {component.tag}: over and short"
        )
        return HttpResponse(drawing, content_type="image/svg+xml; charset=utf-8")


LEDGER = "facilities/<int:facility_id>/inventory/<str:tag>"
INVENTORY_ROUTES: list[URLPattern] = [
    path(f"{LEDGER}/months/<str:month>", InventoryMonth.as_view()),
    path(f"{LEDGER}/months/<str:month>/reconciliation", InventoryReconciliation.as_view()),
    path(f"{LEDGER}/trend", InventoryTrend.as_view()),
    path(f"{LEDGER}/trend.svg", InventoryTrendPicture.as_view()),
]

"""The daily ledger of a tank: days stated, corrected, withdrawn and read."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.change_shapes import WithdrawalIn
from equipment.api.fields import DayField
from equipment.api.idempotency import state_once
from equipment.api.inventory_shapes import LedgerDayOut, LedgerDaysIn, LedgerDaysOut
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.inventory_queries import LEDGER_KINDS, inventory_days
from equipment.models import Component, Facility, InventoryDay
from equipment.services.inventory import doubts_about, state_days, withdraw_day
from equipment.tenancy import Right

DAY_EXAMPLE: dict[str, Any] = {
    "on": "2026-03-02",
    "measured_by": "stick",
    "readings": [{"level_in": 41.125, "water_in": 0.25}],
    "meters": [{"meter": "dock north", "end": 184320.4}],
    "deliveries": [
        {
            "before": [{"level_in": 28.5}],
            "after": [{"level_in": 44.25}],
            "pumped_meanwhile_gal": 12.5,
            "receipt_gal": 1800,
            "receipt": "B-20417",
            "product_degf": 68,
            "tank_degf": 55,
            "api_gravity": 35.5,
        }
    ],
}
DAY_ON_FILE = {
    "id": 12,
    "on": "2026-03-01",
    "idle": False,
    "measured_by": "stick",
    "opening_gal": None,
    "basis": None,
    "readings": [{"tank": "T1", "level_in": 33.25, "gal": 339.0, "water_in": None, "water_gal": None}],
    "meters": [],
    "pumped_gal": 61.5,
    "returned_gal": 0.0,
    "refill_gal": 0.0,
    "deliveries": [],
    "note": None,
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-03-01T23:10:00Z",
    "recorded_by": "R. Ames",
    "supersedes": None,
    "reason": None,
    "superseded_by": None,
    "withdrawn": None,
}


class LedgerView(ScopedView):
    """Finds what a ledger is kept for inside the caller's own facility."""

    def ledger_or_404(self, facility_id: int, tag: str) -> tuple[Facility, Component]:
        """The facility and its tank, compartment or tank system of this tag."""
        facility = self.facility_or_404(facility_id)
        component = Component.objects.filter(facility=facility, tag=tag, kind__in=LEDGER_KINDS).first()
        if component is None:
            raise Http404
        return facility, component


class DaysQuery(PagedQuery):
    """Which days."""

    first = DayField(required=False, help_text="from this day on")
    last = DayField(required=False, help_text="to this day, itself included")


class InventoryDays(LedgerView, GenericAPIView[InventoryDay]):
    """The days of a ledger."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.RECORD}
    query_shape: ClassVar = DaysQuery
    serializer_class = LedgerDayOut

    @extend_schema(
        operation_id="list_inventory_days",
        tags=["inventory"],
        summary="Days of a ledger as stated, newest entry first",
        description="Corrected and withdrawn days stay in the list, with who and when.",
        parameters=[DaysQuery],
        responses={200: LedgerDayOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("A day", value=DAY_ON_FILE, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, tag: str) -> Response:
        """One page."""
        _, component = self.ledger_or_404(facility_id, tag)
        rows = inventory_days(component).prefetch_related("corrections")
        if "first" in self.asked:
            rows = rows.filter(on__gte=self.asked["first"])
        if "last" in self.asked:
            rows = rows.filter(on__lte=self.asked["last"])
        return self.get_paginated_response(LedgerDayOut(self.paginate_queryset(rows), many=True).data)

    @extend_schema(
        operation_id="state_inventory_days",
        tags=["inventory"],
        summary="State days of a ledger, all or nothing",
        description="A day has one closing. To correct it send the day again with `supersedes` and `reason`; the "
        "first entry stays readable. Manifolded tanks are one ledger, under the tag of their tank system.",
        request=LedgerDaysIn,
        responses={201: LedgerDaysOut, **body_problems(403, 404, 409, 428)},
        examples=[
            OpenApiExample("A day with a delivery", value={"days": [DAY_EXAMPLE]}, request_only=True),
            OpenApiExample("On file", value={"days": [DAY_ON_FILE], "remarks": []}, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int, tag: str) -> Response:
        """The days as they now stand."""
        facility, component = self.ledger_or_404(facility_id, tag)
        organisation = self.organisation_at(facility)
        body = LedgerDaysIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = body.stated()

        def work() -> Mapping[str, Any]:
            rows = state_days(
                facility=facility,
                component=component,
                submitted_by=organisation,
                by=self.actor.name,
                days=stated,
                now=self.now,
            )
            found = inventory_days(component).prefetch_related("corrections")
            kept = found.filter(pk__in=[row.pk for row in rows]).order_by("pk")
            return dict(LedgerDaysOut({"days": kept, "remarks": doubts_about(component, stated)}).data)

        return state_once(request, organisation=organisation, now=self.now, work=work)


class InventoryDayWithdrawal(LedgerView):
    """Taking a day out."""

    rights: ClassVar = {"POST": Right.RECORD}

    @extend_schema(
        operation_id="withdraw_inventory_day",
        tags=["inventory"],
        summary="Withdraw a day of a ledger, with the reason",
        description="It stays readable and no longer counts; what it corrected stands again. Open to whoever stated "
        "it, and to the facility's operator.",
        request=WithdrawalIn,
        responses={200: LedgerDayOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("Wrong tank", value={"reason": "read at the wrong tank"}, request_only=True),
            OpenApiExample(
                "Withdrawn",
                value=DAY_ON_FILE | {"withdrawn": {"reason": "read at the wrong tank"}},
                response_only=True,
            ),
        ],
    )
    def post(self, request: Request, facility_id: int, tag: str, entry_id: int) -> Response:
        """The day with its withdrawal."""
        facility, component = self.ledger_or_404(facility_id, tag)
        row = inventory_days(component).filter(pk=entry_id).first()
        if row is None:
            raise Http404
        reason = reason_of(request)
        taken = withdraw_day(
            row=row,
            organisation=self.organisation_at(facility),
            reason=reason,
            by=self.actor.name,
            now=self.now,
        )
        return Response(LedgerDayOut(taken).data)

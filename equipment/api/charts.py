"""Charts of a tank or compartment: stated as JSON or as a CSV file, listed, read and withdrawn."""

from collections.abc import Mapping
from datetime import date
from itertools import pairwise
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api import chart_examples as examples
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.chart_answers import ChartOut, FullChartOut, Shown
from equipment.api.chart_shapes import (
    MAX_ROWS,
    ChartFile,
    ChartIn,
    ChartQuery,
    plain,
)
from equipment.api.idempotency import state_once
from equipment.api.parsers import StrictJSONParser
from equipment.api.schema import body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.api.withdrawals import take_back
from equipment.faults import refuse
from equipment.models import Component, Facility, TankChart
from equipment.physics.chart_text import read_chart
from equipment.queries import chart_on, chart_rows_of
from equipment.services.charts import checked, state_chart
from equipment.tenancy import Right

MAX_BYTES = 512 * 1024


class ChartView(ScopedView):
    """Finds component and chart inside the caller's own facility."""

    def component_or_404(self, facility: Facility, tag: str) -> Component:
        """The component; one of another facility does not exist."""
        component = Component.objects.filter(facility=facility, tag=tag).first()
        if component is None:
            raise Http404
        return component

    def rows(self, component: Component) -> QuerySet[TankChart]:
        """Every chart of the component."""
        return TankChart.objects.filter(component=component).select_related("component", "submitted_by")

    def chart_or_404(self, facility: Facility, tag: str, fact_id: int) -> TankChart:
        """The chart of this component."""
        row = self.rows(self.component_or_404(facility, tag)).filter(pk=fact_id).first()
        if row is None:
            raise Http404
        return row

    def full_answer(self, row: TankChart) -> dict[str, Any]:
        """The chart with its rows and its check."""
        replaced = replacements(row.component_id)
        return dict(FullChartOut(Shown(row, replaced.get(row.pk), checked(row))).data)


def replacements(component_id: int) -> dict[int, date]:
    """By chart: the local day from which the next one that stands takes its place."""
    standing = chart_rows_of([component_id]).get(component_id, [])
    return {row.pk: later.effective_on for row, later in pairwise(standing) if later.effective_on is not None}


class Charts(ChartView, GenericAPIView[TankChart]):
    """The charts of one tank or compartment."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.REGISTER}
    query_shape: ClassVar = ChartQuery
    parser_classes = (StrictJSONParser, MultiPartParser)
    max_bytes = MAX_BYTES
    too_large = f"A chart takes {MAX_BYTES} bytes at most; state it in coarser steps."

    @extend_schema(
        operation_id="list_charts",
        tags=["charts"],
        summary="Charts of a tank or compartment, newest entry first, without their rows",
        parameters=[ChartQuery],
        responses={200: ChartOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("as on file", value=examples.ANSWER, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, tag: str) -> Response:
        """One page, withdrawn ones too: they say so. With `on`, the one chart that holds on that day, if any."""
        component = self.component_or_404(self.facility_or_404(facility_id), tag)
        rows = self.rows(component)
        if "on" in self.asked:
            held = chart_on(chart_rows_of([component.pk]).get(component.pk, []), self.asked["on"])
            rows = rows.filter(pk=held.pk) if held else rows.none()
        page = self.paginate_queryset(rows) or []
        replaced = replacements(component.pk)
        shown = [Shown(row, replaced.get(row.pk)) for row in page]
        return self.get_paginated_response(ChartOut(shown, many=True).data)

    @extend_schema(
        operation_id="state_chart",
        tags=["charts"],
        summary="State a tank's chart, or have it computed from the tank's shape",
        description=(
            "The maker's chart or one calibrated on site comes with its rows, as JSON or as a form with a CSV file; a "
            "computed one comes with the tank's shape. Between rows the volume is interpolated. A supplied chart is "
            "compared with the shape sent along or with the register's diameter; what differs is flagged in `check` "
            "and the chart counts all the same. A later chart takes its place from its own day on."
        ),
        request={"application/json": ChartIn, "multipart/form-data": ChartFile},
        responses={201: FullChartOut, **body_problems(403, 404, 409, 428)},
        examples=[
            OpenApiExample("as supplied", value=examples.SUPPLIED, request_only=True),
            OpenApiExample("to be computed", value=examples.COMPUTED, request_only=True),
            OpenApiExample(
                "a CSV file", value=examples.FORM, request_only=True, media_type="multipart/form-data"
            ),
            OpenApiExample("as on file", value=examples.FULL_ANSWER, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int, tag: str) -> Response:
        """The chart as it now stands, with its check."""
        facility = self.facility_or_404(facility_id)
        component = self.component_or_404(facility, tag)
        organisation = self.organisation_at(facility)
        told = _told(request)

        def work() -> Mapping[str, Any]:
            row = state_chart(
                facility=facility,
                component=component,
                submitted_by=organisation,
                by=self.actor.name,
                now=self.now,
                source=told["source"],
                rows=told["rows"],
                shape=told["geometry"],
                step_in=told["step_in"],
                effective_on=told["effective_on"],
                note=told["note"],
            )
            return self.full_answer(row)

        return state_once(request, organisation=organisation, now=self.now, work=work, understood=plain(told))


def _told(request: Request) -> dict[str, Any]:
    """A body of either kind in one shape."""
    if not request.content_type.startswith("multipart/"):
        body = ChartIn(data=request.data)
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)
    form = ChartFile(data=request.data)
    form.is_valid(raise_exception=True)
    sent = dict(form.validated_data)
    found = read_chart(sent.pop("file").read(), most_rows=MAX_ROWS)
    refuse(fault if fault.pointer else fault.under("/file") for fault in found.faults)
    body = ChartIn(data={"source": sent["source"], "geometry": sent.pop("geometry")})
    body.is_valid(raise_exception=True)
    return dict(body.validated_data) | sent | {"rows": list(found.rows)}


class ChartDetail(ChartView):
    """One chart."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="read_chart",
        tags=["charts"],
        summary="A chart with its rows, the heights for overfill devices, and its check against the tank's shape",
        responses={200: FullChartOut, **problem_responses(404, 422)},
        examples=[OpenApiExample("as on file", value=examples.FULL_ANSWER, response_only=True)],
    )
    def get(self, request: Request, facility_id: int, tag: str, fact_id: int) -> Response:
        """The chart."""
        row = self.chart_or_404(self.facility_or_404(facility_id), tag, fact_id)
        return Response(self.full_answer(row))


class ChartWithdrawal(ChartView):
    """Taking back a chart that was stated by mistake."""

    rights: ClassVar = {"POST": Right.REGISTER}

    @extend_schema(
        operation_id="withdraw_chart",
        tags=["charts"],
        summary="Take back a chart that should never have been stated",
        description="It stays on file with the reason; the chart before it holds again. The same reason again changes "
        "nothing. Open to whoever stated it, and to the facility's operator.",
        request=WithdrawalIn,
        responses={200: FullChartOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "The sheet of another tank."}, request_only=True),
            OpenApiExample("as on file", value=examples.FULL_ANSWER, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int, tag: str, fact_id: int) -> Response:
        """The chart with its withdrawal."""
        facility = self.facility_or_404(facility_id)
        row = self.chart_or_404(facility, tag, fact_id)
        taken = take_back(self, request, row, facility=facility)
        return Response(self.full_answer(taken))

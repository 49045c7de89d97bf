"""A tank chart in the forms that people hang beside the gauge: a CSV table and a picture."""

from typing import ClassVar

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.chart_answers import Shown
from equipment.api.chart_picture import draw, marked
from equipment.api.chart_shapes import TableQuery
from equipment.api.charts import ChartView
from equipment.api.forms import CsvRenderer, OneForm, SvgRenderer
from equipment.api.schema import problem_responses
from equipment.physics.chart_text import write_chart
from equipment.services.charts import checked
from equipment.tenancy import Right
from equipment.vocabulary import ChartSource


class ChartTable(OneForm, ChartView):
    """A chart as a table."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = TableQuery
    renderer_classes = (CsvRenderer,)

    @extend_schema(
        operation_id="read_chart_table",
        tags=["charts"],
        summary="A chart as CSV: its rows, or one every inch or fraction of it, interpolated",
        parameters=[TableQuery],
        responses={(200, "text/csv"): OpenApiTypes.STR, **problem_responses(404, 422)},
        examples=[
            OpenApiExample(
                "whole inches",
                value="depth_in,gal\r\n0,0\r\n1,18.27\r\n2,51.5\r\n",
                response_only=True,
                media_type="text/csv",
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request, facility_id: int, tag: str, fact_id: int) -> Response:
        """CSV text."""
        row = self.chart_or_404(self.facility_or_404(facility_id), tag, fact_id)
        step = float(self.asked["step"]) if "step" in self.asked else None
        name = f"{row.component.tag}-chart-{row.pk}.csv"
        return Response(
            write_chart(row.chart, step), headers={"Content-Disposition": f'attachment; filename="{name}"'}
        )


class ChartPicture(OneForm, ChartView):
    """A chart as a drawing."""

    rights: ClassVar = {"GET": Right.READ}
    renderer_classes = (SvgRenderer,)

    @extend_schema(
        operation_id="read_chart_picture",
        tags=["charts"],
        summary="A chart as SVG: its curve, the heights for 90 and 95 percent, rows that part from the tank's shape",
        responses={(200, "image/svg+xml"): OpenApiTypes.STR, **problem_responses(404, 422)},
        examples=[
            OpenApiExample(
                "a drawing",
                value='<svg xmlns="http://www.w3.org/2000/svg" role="img">...</svg>',
                response_only=True,
                media_type="image/svg+xml",
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request, facility_id: int, tag: str, fact_id: int) -> Response:
        """SVG text."""
        row = self.chart_or_404(self.facility_or_404(facility_id), tag, fact_id)
        shown = Shown(row, None)
        since = f"from {row.effective_on}" if row.effective_on else "since the tank was there"
        named = "computed chart" if row.source == ChartSource.COMPUTED else row.source
        title = f"{row.component.tag}: {named}, {since}"
        if row.withdrawn_at is not None:
            title += " – withdrawn"
        marks = [
            marked(each["percent"], each["depth_in"], each["gal"], each["use"])
            for each in shown.device_heights
        ]
        return Response(draw(title, shown.chart, checked(row), marks))

"""Figures of alarms over a facility or a portfolio, as an answer and as a table."""

from typing import Any, ClassVar

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.figure_examples import REPORT
from alarms.api.figure_shapes import DAYS, WEEK, FiguresQuery, ReportOut
from alarms.api.figure_tables import facilities_table, windows_table
from alarms.api.tables import attachment
from alarms.services.figures import Report, figures_at
from equipment.api.forms import CsvRenderer, OneForm
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right

MOST_FACILITIES = 100
DESCRIPTION = (
    "Of the alarms raised in the span (days begin at each facility's own midnight): how long it took to the first "
    "acknowledgement and to the first disposition in force, what has none, what chattered, what was raised most. "
    "Percentiles are by nearest rank, over those answered; those still waiting are counted beside, with the longest "
    "of them. Answers given after the span count too. The limits follow ANSI/ISA-18.2, IEC 62682 and EEMUA 191, made "
    "for an operator at a console: a marina sees few alarms, so what waits, stands and repeats tells more than rates."
)


class AlarmFigures(ScopedView):
    """The figures."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = FiguresQuery

    @extend_schema(
        operation_id="get_alarm_figures",
        tags=["alarms"],
        summary="How alarms were answered, and what stands, chatters and repeats",
        description=DESCRIPTION,
        parameters=[FiguresQuery],
        responses={200: ReportOut, **problem_responses(403, 404, 422)},
        examples=[OpenApiExample("a month", value=REPORT, response_only=True)],
    )
    def get(self, request: Request) -> Response:
        """The figures over the span."""
        report = self.report()
        context = {"raises": report.figures.raises}
        return Response(ReportOut(_shown(report), context=context).data)

    def report(self) -> Report:
        """What was asked for; 404 for a facility that is not the caller's to see."""
        facilities = self.facilities()
        if "facility" in self.asked:
            facilities = facilities.filter(pk=self.facility_or_404(self.asked["facility"]).pk)
        window = self.asked.get("window")
        return figures_at(
            facilities,
            FiguresQuery.span(self.asked, self.now),
            window_days=DAYS[window] if window else None,
            step_days=self.asked.get("step", 1 if window == "7d" else WEEK),
        )


class AlarmFiguresTable(OneForm, AlarmFigures):
    """The same as a table."""

    renderer_classes = (CsvRenderer,)

    @extend_schema(
        operation_id="read_alarm_figures_table",
        tags=["alarms"],
        summary="The figures as CSV: a line for each facility, or for each window where windows are asked for",
        description="The first line is about all facilities together; one without anything to count has no line.",
        parameters=[FiguresQuery],
        responses={(200, "text/csv"): OpenApiTypes.STR, **problem_responses(403, 404, 422)},
        examples=[
            OpenApiExample(
                "by facility (shortened)",
                value="facility,name,from,until,alarms,raises\r\n,all,,,5,9\r\n",
                response_only=True,
                media_type="text/csv",
                status_codes=["200"],
            )
        ],
    )
    def get(self, request: Request) -> Response:
        """CSV text."""
        report = self.report()
        text = windows_table(report) if "window" in self.asked else facilities_table(report)
        return Response(text, headers={"Content-Disposition": attachment("alarm-figures", self.now)})


def _shown(report: Report) -> dict[str, Any]:
    shown = {name: getattr(report, name) for name in report.__struct_fields__}
    return shown | {"facilities": report.facilities[:MOST_FACILITIES]}

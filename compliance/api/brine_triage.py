"""First looks at a liquid-filled space beside an alarm: stated, listed, taken back."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmView
from alarms.models import Alarm
from compliance.api.brine_examples import ANSWERED, STATED
from compliance.api.brine_shapes import BrineTriageIn, BrineTriageOut
from compliance.models import BrineTriage
from compliance.services.brine import triage_alarm
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.withdrawals import take_back
from equipment.tenancy import Right

ON_FILE = OpenApiExample("a loss, as on file", value=ANSWERED, response_only=True)


def triages_of(alarm: Alarm) -> QuerySet[BrineTriage]:
    """Every look beside an alarm, withdrawn ones too."""
    return BrineTriage.objects.filter(alarm=alarm).select_related("submitted_by")


class BrineTriagesOfAlarm(AlarmView, GenericAPIView[BrineTriage]):
    """The looks beside an alarm."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = BrineTriageOut

    @extend_schema(
        operation_id="list_brine_triages",
        tags=["alarms"],
        summary="Every first look at the liquid-filled space beside an alarm, newest first",
        parameters=[PagedQuery],
        responses={200: BrineTriageOut(many=True), **problem_responses(404, 422)},
        examples=[ON_FILE],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page."""
        page = self.paginate_queryset(triages_of(self.alarm_or_404(alarm_id)))
        return self.get_paginated_response(BrineTriageOut(page, many=True).data)

    @extend_schema(
        operation_id="state_brine_triage",
        tags=["alarms"],
        summary="Temperature, water coming in, or loss? A first look at the level of a liquid-filled space",
        description=(
            "Weighs a series of levels and temperatures: what temperature explains, what drifts when it is taken out, "
            "and, with `levels`, which hole could move the level which way. Any quantity may be sent as a number in "
            "the unit of its name or as `{value, unit}`; what was sent is kept. **It is advice beside the alarm: no "
            "disposition, and no clock is answered.** Refused with 409 where the space is not filled with liquid."
        ),
        request=BrineTriageIn,
        responses={201: BrineTriageOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("eight days", value=STATED, request_only=True), ON_FILE],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The look as it is now on file."""
        alarm = self.alarm_or_404(alarm_id)
        organisation = self.organisation_at(alarm.facility)
        body = BrineTriageIn(data=request.data)
        body.is_valid(raise_exception=True)
        look = body.look()

        def work() -> Mapping[str, Any]:
            row = triage_alarm(
                alarm=alarm,
                look=look,
                stated=body.as_sent(),
                by=self.actor.name,
                organisation=organisation,
                now=self.now,
            )
            return dict(BrineTriageOut(row).data)

        return state_once(request, organisation=organisation, now=self.now, work=work)


class BrineTriageWithdrawal(AlarmView):
    """Taking back a look whose readings were wrong."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="withdraw_brine_triage",
        tags=["alarms"],
        summary="Take back a look that rests on wrong readings",
        description="It stays in the list with the reason. Open to whoever stated it, and to the facility's operator.",
        request=WithdrawalIn,
        responses={200: BrineTriageOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "Read at the wrong riser."}, request_only=True),
            ON_FILE,
        ],
    )
    def post(self, request: Request, alarm_id: int, fact_id: int) -> Response:
        """The look with its withdrawal."""
        alarm = self.alarm_or_404(alarm_id)
        row = triages_of(alarm).filter(pk=fact_id).first()
        if row is None:
            raise Http404
        taken = take_back(self, request, row, facility=alarm.facility)
        return Response(BrineTriageOut(taken).data)

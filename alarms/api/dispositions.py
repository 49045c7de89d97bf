"""What an alarm turned out to be: its answers with their evidence, and taking one back."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmView
from alarms.api.disposition_shapes import (
    DISPOSITION,
    ON_FILE,
    SHOWN,
    DispositionIn,
    DispositionOut,
)
from alarms.dispositions import DispositionType
from alarms.models import Alarm, Disposition
from alarms.queries import dispositions_at
from alarms.services.dispositions import dispose
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.withdrawals import take_back
from equipment.tenancy import Right

ANSWERED = OpenApiExample("as on file", value={**SHOWN, **ON_FILE}, response_only=True)


class DispositionsOfAlarm(AlarmView, GenericAPIView[Disposition]):
    """The answers to an alarm."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = DispositionOut

    @extend_schema(
        operation_id="list_dispositions",
        tags=["alarms"],
        summary="Every answer to an alarm, newest entry first, withdrawn ones too",
        parameters=[PagedQuery],
        responses={200: DispositionOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWERED],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page."""
        alarm = self.alarm_or_404(alarm_id)
        page = self.paginate_queryset(dispositions_at(alarm))
        return self.get_paginated_response(DispositionOut(page, many=True).data)

    @extend_schema(
        operation_id="state_disposition",
        tags=["alarms"],
        summary="Answer an alarm: what it turned out to be, with the proof that its type needs",
        description=(
            "Holds from `at` on, until a later one takes its place; the earlier stays readable. Each type answers "
            "certain classes of alarm and needs the evidence of its paragraph of 40 CFR 280.50; what is missing is "
            "named. (b)(2) asks for the repair of defective parts only: for `not releasing, fixed` and `water removed` "
            "state `no_defect` where the check found none, as with a sale that nobody had entered. Only this, or a "
            "report filed with the agency, answers the clock: acknowledging never does. Whether the proof came in time "
            "is judged by the rules."
        ),
        request=DispositionIn,
        responses={201: DispositionOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("a faulty sensor", value=DISPOSITION, request_only=True), ANSWERED],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The answer as it is now on file."""
        alarm = self.alarm_or_404(alarm_id)
        organisation = self.organisation_at(alarm.facility)
        body = DispositionIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = body.validated_data

        def work() -> Mapping[str, Any]:
            answer = dispose(
                alarm=alarm,
                type=DispositionType(stated["type"]),
                at=stated["at"],
                evidence=stated["evidence"],
                attachments=stated["attachments"],
                by=self.actor.name,
                organisation=organisation,
                now=self.now,
            )
            return DispositionOut(answer).data

        return state_once(request, organisation=organisation, now=self.now, work=work)


class DispositionWithdrawal(AlarmView):
    """Taking back an answer that was stated by mistake."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="withdraw_disposition",
        tags=["alarms"],
        summary="Take back an answer that should never have been stated",
        description=(
            "It stays in the list with the reason and answers no clock from the beginning on. The same reason again "
            "changes nothing. Open to whoever stated it, and to the facility's operator."
        ),
        request=WithdrawalIn,
        responses={200: DispositionOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "Answered the wrong alarm."}, request_only=True),
            ANSWERED,
        ],
    )
    def post(self, request: Request, alarm_id: int, fact_id: int) -> Response:
        """The answer with its withdrawal."""
        alarm = self.alarm_or_404(alarm_id)
        answer = _answer_or_404(alarm, fact_id)
        taken = take_back(self, request, answer, facility=alarm.facility)
        return Response(DispositionOut(taken).data)


def _answer_or_404(alarm: Alarm, fact_id: int) -> Disposition:
    answer = dispositions_at(alarm).filter(pk=fact_id).first()
    if answer is None:
        raise Http404
    return answer

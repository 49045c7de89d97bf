"""What people know of an alarm besides its answer: stated, listed, taken back."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmView
from alarms.api.disposition_shapes import ON_FILE
from alarms.api.knowledge_shapes import KNOWLEDGE, NOT_STATED, KnowledgeIn, KnowledgeOut
from alarms.knowledge_queries import statements_at
from alarms.models import AlarmKnowledge
from alarms.services.knowledge import state_knowledge, withdraw_knowledge
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.withdrawals import reason_of
from equipment.tenancy import Right

STATED = OpenApiExample("as on file", value={**NOT_STATED, **KNOWLEDGE, **ON_FILE}, response_only=True)


class KnowledgeOfAlarm(AlarmView, GenericAPIView[AlarmKnowledge]):
    """What people know of an alarm besides its answer."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = KnowledgeOut

    @extend_schema(
        operation_id="list_alarm_knowledge",
        tags=["alarms"],
        summary="Everything stated of an alarm besides its answers, newest entry first, withdrawn statements too",
        parameters=[PagedQuery],
        responses={200: KnowledgeOut(many=True), **problem_responses(404, 422)},
        examples=[STATED],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page."""
        alarm = self.alarm_or_404(alarm_id)
        page = self.paginate_queryset(statements_at(alarm))
        return self.get_paginated_response(KnowledgeOut(page, many=True).data)

    @extend_schema(
        operation_id="state_alarm_knowledge",
        tags=["alarms"],
        summary="State which party knew when, when the alarm was discovered, or what the liquid was",
        description=(
            "When the operator discovered the alarm or knew of it, only the operator states (403); a contractor states "
            "its own moment and what the liquid was. Without a discovery the alarm's own time counts (40 CFR 280.50: "
            "24 hours). It is stated once, until it is withdrawn, and lies neither after the first answer to the alarm "
            "(acknowledged, shelved or taken out of service, even if that ended since) nor after the first mail about "
            "it that a mail server took for the operator's people: whoever answers or is told knows. A party's moment "
            "can be stated anew only earlier. Of the liquid facts the latest statement counts."
        ),
        request=KnowledgeIn,
        responses={201: KnowledgeOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("the contractor knew", value=KNOWLEDGE, request_only=True), STATED],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The statement as it is now on file."""
        alarm = self.alarm_or_404(alarm_id)
        organisation = self.organisation_at(alarm.facility)
        body = KnowledgeIn(data=request.data)
        body.is_valid(raise_exception=True)

        def work() -> Mapping[str, Any]:
            said = state_knowledge(
                alarm=alarm,
                stated=body.validated_data,
                by=self.actor.name,
                organisation=organisation,
                now=self.now,
            )
            return KnowledgeOut(said).data

        return state_once(request, organisation=organisation, now=self.now, work=work)


class KnowledgeWithdrawal(AlarmView):
    """Taking back a statement that should never have been made."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="withdraw_alarm_knowledge",
        tags=["alarms"],
        summary="Take back what was stated of an alarm by mistake",
        description=(
            "It stays in the list with the reason and counts no longer; readings as of an earlier moment still see it. "
            "A discovery that was taken back can be stated anew. The same reason again changes nothing. Open to "
            "whoever stated it, and to the facility's operator."
        ),
        request=WithdrawalIn,
        responses={200: KnowledgeOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "The hour was of another alarm."}, request_only=True),
            STATED,
        ],
    )
    def post(self, request: Request, alarm_id: int, fact_id: int) -> Response:
        """The statement with its withdrawal."""
        alarm = self.alarm_or_404(alarm_id)
        said = statements_at(alarm).select_related("alarm").filter(pk=fact_id).first()
        if said is None:
            raise Http404
        taken = withdraw_knowledge(
            said=said,
            organisation=self.organisation_at(alarm.facility),
            reason=reason_of(request),
            by=self.actor.name,
            now=self.now,
        )
        return Response(KnowledgeOut(taken).data)

"""Who was told about an alarm."""

from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmView
from alarms.models import Notice
from alarms.models.notices import Outcome
from alarms.queries import notices_of
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.tenancy import Right


class AttemptOut(StrictSerializer):
    """One try to send."""

    at = serializers.DateTimeField()
    outcome = serializers.ChoiceField(
        choices=Outcome.choices, help_text="class of RFC 3463: 2 done, 4 try again later, 5 never"
    )
    code = serializers.CharField(help_text="as the mail server gave it")
    text = serializers.CharField()


class NoticeOut(StrictSerializer):
    """One person to be told once about one call. Without `sent_at` and `failed_at` it still waits."""

    id = serializers.IntegerField()
    step = serializers.IntegerField(help_text="number of the call")
    name = serializers.CharField()
    email = serializers.CharField()
    organisation = serializers.CharField(source="organisation.name")
    subject = serializers.CharField()
    message_id = serializers.CharField(
        source="carried_as", help_text="of the mail; notices that came due within a minute share one"
    )
    due_at = serializers.DateTimeField()
    created_at = serializers.DateTimeField()
    tries = serializers.IntegerField()
    sent_at = serializers.DateTimeField(
        allow_null=True, help_text="sent is not told: only an answer shows that"
    )
    failed_at = serializers.DateTimeField(allow_null=True)
    withdrawn_at = serializers.DateTimeField(
        allow_null=True,
        help_text="before the mail had gone: the alarm was answered, its clock stopped, or the person lost access",
    )
    attempts = AttemptOut(many=True)


EXAMPLE = OpenApiExample(
    "told at once",
    value={
        "id": 31,
        "step": 1,
        "name": "Dock office",
        "email": "dock@example.com",
        "organisation": "Own Marinas",
        "subject": "Liquid in a sump: SU1, Point Three Marina",
        "message_id": "<alarm.12.20260304150000.1.6f1d2a0c9b7e4f35@example.com>",
        "due_at": "2026-03-04T15:00:00Z",
        "created_at": "2026-03-04T15:00:01Z",
        "tries": 1,
        "sent_at": "2026-03-04T15:00:02Z",
        "failed_at": None,
        "withdrawn_at": None,
        "attempts": [{"at": "2026-03-04T15:00:02Z", "outcome": 2, "code": "", "text": ""}],
    },
    response_only=True,
)


class NoticesOfAlarm(AlarmView, GenericAPIView[Notice]):
    """The notices of one alarm."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PagedQuery
    serializer_class = NoticeOut

    @extend_schema(
        operation_id="list_notices",
        tags=["alarms"],
        summary="Who was told about an alarm, and what came of each try",
        parameters=[PagedQuery],
        responses={200: NoticeOut(many=True), **problem_responses(404, 422)},
        examples=[EXAMPLE],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page of notices, newest first."""
        page = self.paginate_queryset(notices_of(self.alarm_or_404(alarm_id)))
        return self.get_paginated_response(NoticeOut(page, many=True).data)

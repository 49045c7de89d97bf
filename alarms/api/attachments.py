"""The photos and papers of an alarm: those attached to it, and those that its answers show."""

from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmView
from alarms.queries import attachments_of_alarm
from alarms.services.alarm_attachments import attach
from equipment.api.attachment_shapes import ATTACHMENT, AttachmentOut, attachment_numbers
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import WholeField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.models import Attachment
from equipment.tenancy import Right


class AlarmFilesIn(StrictSerializer):
    """Files of the facility, sent before."""

    attachments = attachment_numbers(required=True, allow_empty=False)


class AlarmFilesOut(StrictSerializer):
    """What became of them."""

    attached = WholeField(read_only=True, help_text="how many are new with this alarm")


class AttachmentsOfAlarm(AlarmView, GenericAPIView[Attachment]):
    """The files of an alarm."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = AttachmentOut

    @extend_schema(
        operation_id="list_attachments_of_alarm",
        tags=["alarms"],
        summary="Photos and papers of an alarm and of its answers, newest entry first, withdrawn ones too",
        parameters=[PagedQuery],
        responses={200: AttachmentOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("a photo", value=ATTACHMENT, response_only=True)],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page."""
        page = self.paginate_queryset(attachments_of_alarm(self.alarm_or_404(alarm_id)))
        return self.get_paginated_response(AttachmentOut(page, many=True).data)

    @extend_schema(
        operation_id="attach_to_alarm",
        tags=["alarms"],
        summary="Attach photos and papers to an alarm before anybody knows its answer",
        description=(
            "Send each file first, then name its number here. The same number again changes nothing, so no "
            "Idempotency-Key is needed. No clock of the law hangs on it: only an answer or a report does."
        ),
        request=AlarmFilesIn,
        responses={200: AlarmFilesOut, **body_problems(403, 404)},
        examples=[
            OpenApiExample("two photos", value={"attachments": [31, 32]}, request_only=True),
            OpenApiExample("both are new", value={"attached": 2}, response_only=True),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """How many are new."""
        alarm = self.alarm_or_404(alarm_id)
        organisation = self.organisation_at(alarm.facility)
        body = AlarmFilesIn(data=request.data)
        body.is_valid(raise_exception=True)
        attached = attach(
            alarm=alarm,
            attachments=body.validated_data["attachments"],
            by=self.actor.name,
            organisation=organisation,
            now=self.now,
        )
        return Response(AlarmFilesOut({"attached": attached}).data)

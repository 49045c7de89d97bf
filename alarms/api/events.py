"""Events of sensors and consoles: delivered in batches, listed as received."""

import json
from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.matching import Signal
from alarms.models import Event
from alarms.queries import events_at
from alarms.services.intake import MAX_EVENTS, EventIdReused, Report, receive_events
from alarms.tasks import tell
from equipment.api.fields import InstantField
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WordField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right
from equipment.waking import wake

MAX_PAYLOAD = 4000


class EventIn(StrictSerializer):
    """One message of a device."""

    id = TextField(max_length=100, help_text="the source's own id of the message; a repeat changes nothing")
    device = TextField(
        max_length=100,
        required=False,
        allow_null=True,
        help_text="tag of the component, or what the device calls itself; null: the facility as a whole",
    )
    condition = TextField(max_length=60, help_text="slug of GET /api/v1/conditions; another word is kept too")
    signal = WordField(choices=list(Signal))
    occurred_at = InstantField(help_text="by the device's clock, with offset")
    payload = serializers.DictField(required=False, help_text="whatever else is known, kept as sent")

    def validate_payload(self, value: dict[str, Any]) -> dict[str, Any]:
        """Small enough to keep with every event."""
        if len(json.dumps(value)) > MAX_PAYLOAD:
            raise serializers.ValidationError(f"At most {MAX_PAYLOAD} characters as JSON.", code="too_large")
        return value


class EventsIn(StrictSerializer):
    """A batch of one source."""

    source = TextField(  # type: ignore[assignment]
        max_length=100, help_text="your name of the console or gateway; ids are unique within it"
    )
    events = serializers.ListField(child=EventIn(), min_length=1, max_length=MAX_EVENTS)


class RemarkOut(StrictSerializer):
    """Something people should know about an event that was taken in all the same."""

    pointer = serializers.CharField(help_text="JSON pointer into the body sent")
    detail = serializers.CharField()
    code = serializers.CharField()


class IntakeOut(StrictSerializer):
    """What the batch did; the lists hold ids of alarms."""

    accepted = serializers.IntegerField()
    repeated = serializers.IntegerField(help_text="events that were on file already")
    opened = serializers.ListField(child=serializers.IntegerField())
    joined = serializers.ListField(child=serializers.IntegerField())
    cleared = serializers.ListField(child=serializers.IntegerField())
    remarks = RemarkOut(many=True)


class EventOut(StrictSerializer):
    """A message as received, and where it went."""

    id = serializers.IntegerField()
    source = serializers.CharField()  # type: ignore[assignment]
    source_event_id = serializers.CharField()
    device = serializers.SerializerMethodField(help_text="what the device calls itself")
    condition = serializers.CharField()
    signal = serializers.ChoiceField(choices=list(Signal))
    occurred_at = serializers.DateTimeField()
    received_at = serializers.DateTimeField()
    received_from = serializers.CharField(source="received_from.name")
    payload = serializers.DictField()
    component = serializers.CharField(source="component.tag", allow_null=True, default=None)
    alarm = serializers.IntegerField(source="alarm_id", allow_null=True, help_text="null: it moved none")
    remark = serializers.CharField(allow_null=True)
    conflicts_with = serializers.IntegerField(
        source="conflicts_with_id", allow_null=True, help_text="the event of the same id that stands"
    )

    def get_device(self, event: Event) -> str | None:
        """None: the facility as a whole."""
        return event.device or None


BODY = {
    "source": "console-1",
    "events": [
        {
            "id": "000481",
            "device": "SU1",
            "condition": "sump-liquid",
            "signal": "raised",
            "occurred_at": "2026-03-04T09:58:00-05:00",
        }
    ],
}
INTAKE = {"accepted": 1, "repeated": 0, "opened": [12], "joined": [], "cleared": [], "remarks": []}
ON_FILE = {
    "id": 501,
    "source": "console-1",
    "source_event_id": "000481",
    "device": "SU1",
    "condition": "sump-liquid",
    "signal": "raised",
    "occurred_at": "2026-03-04T14:58:00Z",
    "received_at": "2026-03-04T15:00:00Z",
    "received_from": "Own Marinas",
    "payload": {},
    "component": "SU1",
    "alarm": 12,
    "remark": None,
    "conflicts_with": None,
}


class Events(ScopedView, GenericAPIView[Event]):
    """What devices of a facility said."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.SIGNAL}
    query_shape: ClassVar = PagedQuery
    serializer_class = EventOut

    @extend_schema(
        operation_id="list_events",
        tags=["alarms"],
        summary="What devices of a facility said, as received, newest first",
        parameters=[PagedQuery],
        responses={200: EventOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("as received", value=ON_FILE, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page of events, conflicting ones too."""
        page = self.paginate_queryset(events_at(self.facility_or_404(facility_id)))
        return self.get_paginated_response(EventOut(page, many=True).data)

    @extend_schema(
        operation_id="deliver_events",
        tags=["alarms"],
        summary="Deliver what a console or gateway reported",
        description=(
            "Up to 1,000 events; `id` tells a repeat, so send a batch again when in doubt. Where the form is wrong "
            "nothing is stored. An id used for other content answers 409 after everything else was taken in."
        ),
        request=EventsIn,
        responses={201: IntakeOut, 200: IntakeOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("a sump sensor", value=BODY, request_only=True),
            OpenApiExample("it opened an alarm", value=INTAKE, response_only=True),
        ],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """201 when something was new, 200 when all of it was on file."""
        facility = self.facility_or_404(facility_id)
        body = EventsIn(data=request.data)
        body.is_valid(raise_exception=True)
        intake = receive_events(
            facility=facility,
            source_org=self.organisation_at(facility),
            entered_by=self.actor.name,
            events=_reports(body.validated_data),
            now=self.now,
        )
        wake(tell)
        if intake.conflicts:
            raise EventIdReused(intake)
        return Response(IntakeOut(intake).data, status=201 if intake.accepted else 200)


def _reports(sent: dict[str, Any]) -> list[Report]:
    return [
        Report(
            source=sent["source"],
            id=one["id"],
            device=one.get("device") or "",
            condition=one["condition"],
            signal=Signal(one["signal"]),
            occurred_at=one["occurred_at"],
            payload=one.get("payload") or {},
        )
        for one in sent["events"]
    ]

"""Events of sensors and consoles: delivered in batches, listed as received."""

from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.event_shapes import (
    BODY,
    INTAKE,
    ON_FILE,
    EventOut,
    EventsIn,
    IntakeOut,
    answer_of,
    read_batch,
)
from alarms.models import Event
from alarms.queries import events_at
from alarms.services.intake import EventIdReused, receive_events
from alarms.tasks import tell
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right
from equipment.waking import wake


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
        events = read_batch(request.data)
        intake = receive_events(
            facility=facility,
            source_org=self.organisation_at(facility),
            entered_by=self.actor.name,
            events=events,
            now=self.now,
        )
        wake(tell)
        if intake.conflicts:
            raise EventIdReused(intake)
        return Response(answer_of(intake), status=201 if intake.accepted else 200)

"""Steps that people take with an alarm besides acknowledging it, and the thread of all of them."""

from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.alarms import AlarmOut, AlarmView
from alarms.api.step_shapes import (
    STEP,
    AlarmStepOut,
    EndOfShelvingIn,
    OutOfServiceIn,
    ResetIn,
    ReturnIn,
    ShelvingIn,
    after_step,
)
from alarms.models import Alarm, AlarmStep
from alarms.queries import steps_of
from alarms.services.out_of_service import return_to_service, take_out
from alarms.services.resetting import reset
from alarms.services.shelving import shelve, unshelve
from alarms.tasks import tell
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.tenancy import Right
from equipment.waking import wake

REFUSED = " What the alarm's state does not allow answers 409 and says what it does."


class StepView(AlarmView):
    """One step with an alarm."""

    rights: ClassVar = {"POST": Right.ANSWER}

    def stated(self, request: Request, shape: type[StrictSerializer]) -> dict[str, Any]:
        """The body, checked."""
        body = shape(data=request.data)
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)

    def wake_and_show(self, alarm: Alarm) -> Response:
        """Wake the sender, then the alarm as it stands after the step."""
        wake(tell)
        return Response(AlarmOut(self.alarm_or_404(alarm.pk)).data, status=201)


class ShelvingOfAlarm(StepView):
    """Keeping an alarm quiet for a limited time."""

    @extend_schema(
        operation_id="shelve_alarm",
        tags=["alarms"],
        summary="Keep an alarm quiet for a limited time, for a stated reason",
        description=(
            "Counts as an answer and stops the calls. It comes back by itself at `until`: if the condition still "
            "holds, people are called from the first step on. How long at most depends on the priority; released "
            "product is never shelved. A clock of the law runs on and calls all the same." + REFUSED
        ),
        request=ShelvingIn,
        responses={201: AlarmOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample(
                "until the evening", value={"reason": STEP["note"], "until": STEP["until"]}, request_only=True
            ),
            after_step("shelved", state="shelved", shelved_until=STEP["until"], to_close=["shelved"]),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The alarm, shelved."""
        alarm = self.alarm_or_404(alarm_id)
        said = self.stated(request, ShelvingIn)
        return self.wake_and_show(shelve(alarm=alarm, by=self.actor.name, now=self.now, **said))


class EndOfShelving(StepView):
    """Bringing a shelved alarm back early."""

    @extend_schema(
        operation_id="end_shelving",
        tags=["alarms"],
        summary="Bring a shelved alarm back before its time",
        description="It comes back as it then is; if its condition holds, people are called." + REFUSED,
        request=EndOfShelvingIn,
        responses={201: AlarmOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("with a note", value={"note": "The new float is in."}, request_only=True),
            after_step("it was over meanwhile", state="normal", cleared_at="2026-03-04T15:30:00Z"),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The alarm as it came back."""
        alarm = self.alarm_or_404(alarm_id)
        note = self.stated(request, EndOfShelvingIn).get("note") or None
        return self.wake_and_show(unshelve(alarm=alarm, by=self.actor.name, note=note, now=self.now))


class OutOfServiceOfAlarm(StepView):
    """Keeping an alarm quiet while its equipment is worked on."""

    @extend_schema(
        operation_id="take_alarm_out_of_service",
        tags=["alarms"],
        summary="Keep an alarm quiet while its equipment is worked on",
        description=(
            "Counts as an answer and stops the calls, until it is returned to service with the record of a repair. "
            "A clock of the law runs on and calls all the same." + REFUSED
        ),
        request=OutOfServiceIn,
        responses={201: AlarmOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("a sensor", value={"reason": "Sensor taken out for repair."}, request_only=True),
            after_step("out of service", state="out of service", to_close=["out of service"]),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The alarm, out of service."""
        alarm = self.alarm_or_404(alarm_id)
        said = self.stated(request, OutOfServiceIn)
        return self.wake_and_show(take_out(alarm=alarm, by=self.actor.name, now=self.now, **said))


class ReturnToService(StepView):
    """Bringing an alarm back after the repair."""

    @extend_schema(
        operation_id="return_alarm_to_service",
        tags=["alarms"],
        summary="Bring an alarm back with the record of the repair",
        description=(
            "The record is of a repair (40 CFR 280.33) of what gave the alarm, made since it was taken out of "
            "service. If the condition still holds, people are called from the first step on." + REFUSED
        ),
        request=ReturnIn,
        responses={201: AlarmOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("with its record", value={"record": 88, "note": None}, request_only=True),
            after_step("it is over", state="normal", cleared_at="2026-03-04T15:30:00Z"),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The alarm, back in service."""
        alarm = self.alarm_or_404(alarm_id)
        said = self.stated(request, ReturnIn)
        note, record = said.get("note") or None, said["record"]
        back = return_to_service(alarm=alarm, by=self.actor.name, note=note, record=record, now=self.now)
        return self.wake_and_show(back)


class ResetOfAlarm(StepView):
    """Ending an alarm that latched."""

    @extend_schema(
        operation_id="reset_alarm",
        tags=["alarms"],
        summary="End an alarm that latched, with what was found",
        description=(
            "A failed leak test stays when the device says that it is over. It is acknowledged first, and reset by "
            "somebody who has looked. Not while the condition holds." + REFUSED
        ),
        request=ResetIn,
        responses={201: AlarmOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample(
                "what it was",
                value={"found": "Air in the line after work on the pump; tested again, tight."},
                request_only=True,
            ),
            after_step("it is over", state="normal", cleared_at="2026-03-04T15:30:00Z"),
        ],
    )
    def post(self, request: Request, alarm_id: int) -> Response:
        """The alarm, over."""
        alarm = self.alarm_or_404(alarm_id)
        said = self.stated(request, ResetIn)
        return self.wake_and_show(reset(alarm=alarm, by=self.actor.name, now=self.now, **said))


class StepsOfAlarm(AlarmView, GenericAPIView[AlarmStep]):
    """The thread of an alarm."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PagedQuery
    serializer_class = AlarmStepOut

    @extend_schema(
        operation_id="list_alarm_steps",
        tags=["alarms"],
        summary="Every step that people took with an alarm, newest first",
        parameters=[PagedQuery],
        responses={200: AlarmStepOut(many=True), **problem_responses(404, 422)},
        examples=[OpenApiExample("shelved", value=STEP, response_only=True)],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """One page; steps with an alarm that was merged into it, too."""
        page = self.paginate_queryset(steps_of(self.alarm_or_404(alarm_id)))
        return self.get_paginated_response(AlarmStepOut(page, many=True).data)

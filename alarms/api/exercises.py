"""Function checks of sensors: planned ahead, listed with what became of each sensor, ended early, withdrawn."""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.exercises import CheckOutcome
from alarms.models import Exercise
from alarms.queries import exercises_at
from alarms.services.exercises import MAX_SENSORS, end_exercise, plan_exercise, withdraw_exercise
from alarms.tasks import tell
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.fact_shapes import FactOut
from equipment.api.fields import InstantField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField, WordField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.api.withdrawals import reason_of
from equipment.models import Facility
from equipment.tenancy import Right
from equipment.waking import wake


class FunctionCheckIn(StrictSerializer):
    """Who drives which sensors, from when until when."""

    led_by = TextField(max_length=200, help_text="the person on site who leads it")
    sensors = serializers.ListField(
        child=TextField(max_length=30),
        min_length=1,
        max_length=MAX_SENSORS,
        help_text="tags of the sensors that are to be driven",
    )
    starts_at = InstantField(
        required=False, allow_null=True, help_text="inclusive, at most 60 days ahead; left out: now"
    )
    ends_at = InstantField(help_text="exclusive, at most 8 hours after its start")
    note = TextField(required=False, allow_null=True, max_length=2000)


class CheckedSensorOut(StrictSerializer):
    """One sensor, and what it did."""

    tag = TextField(source="component.tag", read_only=True)
    outcome = WordField(
        choices=[str(one) for one in CheckOutcome],
        read_only=True,
        allow_null=True,
        help_text="null: not over, or its planner lost access meanwhile",
    )
    judged_at = InstantField(
        read_only=True, allow_null=True, help_text="messages that came later were looked at then"
    )
    record = WholeField(
        source="record_id", read_only=True, allow_null=True, help_text="number of the record that shows it"
    )


class FunctionCheckOut(FactOut):
    """A function check as on file."""

    led_by = TextField(read_only=True)
    starts_at = InstantField(read_only=True)
    ends_at = InstantField(read_only=True, help_text="as planned")
    ended_at = InstantField(read_only=True, allow_null=True, help_text="ended early")
    ended_by = TextField(read_only=True, allow_null=True)
    closed_at = InstantField(
        read_only=True, allow_null=True, help_text="when its evidence was put on file; null: not yet"
    )
    note = TextField(read_only=True, allow_null=True)
    sensors = CheckedSensorOut(many=True, read_only=True)


BODY: dict[str, Any] = {
    "led_by": "R. Ames",
    "sensors": ["SN1", "SN2"],
    "starts_at": "2026-03-05T14:00:00Z",
    "ends_at": "2026-03-05T16:00:00Z",
    "note": "Monthly round.",
}
ANSWER: dict[str, Any] = {
    "id": 5,
    "submitted_by": "Own Marinas",
    "recorded_at": "2026-03-04T15:00:00Z",
    "recorded_by": "dock office",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
    **BODY,
    "ended_at": None,
    "ended_by": None,
    "closed_at": "2026-03-05T16:00:04Z",
    "sensors": [
        {"tag": "SN1", "outcome": "responded", "judged_at": "2026-03-05T16:00:04Z", "record": 91},
        {"tag": "SN2", "outcome": "did not respond", "judged_at": "2026-03-05T16:00:04Z", "record": 92},
    ],
}
ANSWER_EXAMPLE = OpenApiExample("after its end", value=ANSWER, response_only=True)


class _FunctionCheckView(ScopedView):
    """Finds a check inside the caller's own facility."""

    def check_or_404(self, facility: Facility, fact_id: int) -> Exercise:
        """The check; one of another facility does not exist."""
        check = exercises_at(facility).filter(pk=fact_id).first()
        if check is None:
            raise Http404
        return check

    def answer(self, facility: Facility, check: Exercise) -> dict[str, Any]:
        """The check as the API shows it."""
        return dict(FunctionCheckOut(self.check_or_404(facility, check.pk)).data)


class FunctionChecks(_FunctionCheckView, GenericAPIView[Exercise]):
    """The function checks of a facility."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.ANSWER}
    query_shape: ClassVar = PagedQuery
    serializer_class = FunctionCheckOut

    @extend_schema(
        operation_id="list_function_checks",
        tags=["function checks"],
        summary="Planned and past function checks of sensors, newest entry first",
        parameters=[PagedQuery],
        responses={200: FunctionCheckOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page, withdrawn ones too: they say so."""
        page = self.paginate_queryset(exercises_at(self.facility_or_404(facility_id)))
        return self.get_paginated_response(FunctionCheckOut(page, many=True).data)

    @extend_schema(
        operation_id="plan_function_check",
        tags=["function checks"],
        summary="Plan a function check: who drives which sensors, and when",
        description=(
            "An alarm that a named sensor raises inside the window, and that reaches us inside it, is an exercise: the "
            "first people are told, marked so, and nobody else while the window is open. At its end each sensor that "
            "went into alarm and back has its record and its answer to the alarm (40 CFR 280.50(c)(4), as read here); "
            "one that did not respond has failed, which stays open until a later check or test of it passes (40 CFR "
            "280.40(a)(3)); whatever still is in alarm is real and is called from the first step on. Never an "
            "exercise: what was raised before, other sensors, equipment faults, conditions that are not in the "
            "catalogue, product found outside. Planned at the latest at its start, and for at most 12 hours a sensor "
            "within a day; the clock of the law runs on inside it."
        ),
        request=FunctionCheckIn,
        responses={201: FunctionCheckOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("a monthly round", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The check as it is now on file."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        body = FunctionCheckIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = {"starts_at": None, "note": None} | body.validated_data

        def work() -> Mapping[str, Any]:
            check = plan_exercise(
                facility=facility, submitted_by=organisation, by=self.actor.name, now=self.now, **stated
            )
            return self.answer(facility, check)

        return state_once(request, organisation=organisation, now=self.now, work=work)


class FunctionCheckEnd(_FunctionCheckView):
    """Ending a check before its planned end."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="end_function_check",
        tags=["function checks"],
        summary="End a function check that is under way, now",
        description="Whatever still is in alarm is real from this moment on. Again changes nothing.",
        request=None,
        responses={200: FunctionCheckOut, **body_problems(403, 404, 409)},
        examples=[ANSWER_EXAMPLE],
    )
    def post(self, request: Request, facility_id: int, fact_id: int) -> Response:
        """The check with its end."""
        facility = self.facility_or_404(facility_id)
        StrictSerializer(data=request.data).is_valid(raise_exception=True)
        ended = end_exercise(exercise=self.check_or_404(facility, fact_id), by=self.actor.name, now=self.now)
        wake(tell)
        return Response(self.answer(facility, ended))


class FunctionCheckWithdrawal(_FunctionCheckView):
    """Taking back a check that is not to take place."""

    rights: ClassVar = {"POST": Right.ANSWER}

    @extend_schema(
        operation_id="withdraw_function_check",
        tags=["function checks"],
        summary="Take back a function check that has not begun",
        description=(
            "It stays in the list with the reason. The same reason again changes nothing. Open to whoever planned it, "
            "and to the facility's operator. One that has begun is ended instead."
        ),
        request=WithdrawalIn,
        responses={200: FunctionCheckOut, **body_problems(403, 404, 409)},
        examples=[
            OpenApiExample("as sent", value={"reason": "The technician is ill."}, request_only=True),
            ANSWER_EXAMPLE,
        ],
    )
    def post(self, request: Request, facility_id: int, fact_id: int) -> Response:
        """The check with its withdrawal."""
        facility = self.facility_or_404(facility_id)
        check = self.check_or_404(facility, fact_id)
        reason = reason_of(request)
        taken = withdraw_exercise(
            exercise=check,
            organisation=self.organisation_at(facility),
            reason=reason,
            by=self.actor.name,
            now=self.now,
        )
        return Response(self.answer(facility, taken))

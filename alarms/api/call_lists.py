"""The call list of a facility, and what it would do."""

from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.escalation import REPEAT_MINUTES
from alarms.models import CallList
from alarms.services.call_lists import (
    MAX_RECIPIENTS,
    MAX_STEPS,
    StatedContact,
    StatedStep,
    call_list_of,
    preview,
    replace_call_list,
)
from alarms.tasks import tell
from equipment.api.etags import check_match, tagged
from equipment.api.fields import InstantField
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import TextField, WholeField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import Facility
from equipment.tenancy import Right
from equipment.waking import wake

A_YEAR = 366 * 24 * 60


class RecipientIn(StrictSerializer):
    """A person to be told."""

    name = TextField(max_length=100)
    email = serializers.EmailField(max_length=254)
    organisation = WholeField(
        required=False, help_text="id of one that may see the facility; left out: your own", min_value=1
    )


class StepIn(StrictSerializer):
    """So many minutes after the alarm reached us, these people."""

    after_minutes = WholeField(min_value=0, max_value=A_YEAR)
    recipients = serializers.ListField(child=RecipientIn(), min_length=1, max_length=MAX_RECIPIENTS)


class CallListIn(StrictSerializer):
    """The whole list; what stood before is replaced."""

    repeat_minutes = WholeField(
        required=False,
        default=REPEAT_MINUTES,
        min_value=1,
        max_value=A_YEAR,
        help_text="how often the last step is called again until somebody acknowledges",
    )
    steps = serializers.ListField(child=StepIn(), max_length=MAX_STEPS)


class RecipientOut(StrictSerializer):
    """A person to be told."""

    name = serializers.CharField()
    email = serializers.CharField()
    organisation = serializers.IntegerField(help_text="id")


class StepOut(StrictSerializer):
    """A step of the list."""

    position = serializers.IntegerField()
    after_minutes = serializers.IntegerField()
    recipients = RecipientOut(many=True)


class CallListOut(StrictSerializer):
    """The list as it stands; version 0: none was stated yet, and the operator's own people are told."""

    version = serializers.IntegerField(help_text="the ETag names it")
    repeat_minutes = serializers.IntegerField()
    changed_at = serializers.DateTimeField(allow_null=True)
    changed_by = serializers.CharField(allow_null=True)
    steps = StepOut(many=True)


class PreviewQuery(StrictQuery):
    """When the alarm would reach us."""

    raised_at = InstantField(required=False, help_text="left out: now")


class CallOut(StrictSerializer):
    """One call that would be made."""

    number = serializers.IntegerField()
    at = serializers.DateTimeField(source="due_at")
    at_local = serializers.SerializerMethodField(help_text="in the facility's zone, with its abbreviation")
    recipients = RecipientOut(many=True)

    def get_at_local(self, call: Any) -> str:
        """As people at the site read it."""
        return f"{call.due_at.astimezone(self.context['zone']):%Y-%m-%d %H:%M %Z}"


class PreviewOut(StrictSerializer):
    """Who would be told when, if nobody answered: every step and the first repeats of the last."""

    calls = CallOut(many=True)
    repeat_minutes = serializers.IntegerField(allow_null=True, help_text="the last call again, this often")
    remarks = serializers.ListField(child=serializers.CharField())


DOCK = {"name": "Dock office", "email": "dock@example.com", "organisation": 2}
OWNER = {"name": "Owner on duty", "email": "owner@example.com", "organisation": 2}
STEPS = [{"after_minutes": 0, "recipients": [DOCK]}, {"after_minutes": 15, "recipients": [OWNER]}]
BODY = {"repeat_minutes": 30, "steps": STEPS}
ON_FILE = {
    "version": 3,
    "repeat_minutes": 30,
    "changed_at": "2026-03-01T12:00:00Z",
    "changed_by": "dock office",
    "steps": [{"position": position, **step} for position, step in enumerate(STEPS, start=1)],
}
FORESEEN = {
    "calls": [
        {
            "number": 1,
            "at": "2026-03-04T15:00:00Z",
            "at_local": "2026-03-04 10:00 EST",
            "recipients": [DOCK],
        }
    ],
    "repeat_minutes": 30,
    "remarks": [],
}
ANSWER_EXAMPLE = OpenApiExample("two steps", value=ON_FILE, response_only=True)


class CallListOfFacility(ScopedView):
    """The one call list of a facility."""

    rights: ClassVar = {"GET": Right.READ, "PUT": Right.ANSWER}

    @extend_schema(
        operation_id="get_call_list",
        tags=["alarms"],
        summary="Who is told about alarms at a facility",
        responses={200: CallListOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The list with its ETag."""
        return _answer(self.facility_or_404(facility_id))

    @extend_schema(
        operation_id="put_call_list",
        tags=["alarms"],
        summary="State who is told about alarms at a facility",
        description=(
            "Send If-Match with the ETag of your last read. Alarms that nobody has answered are called by the new "
            "list at once. Only the operator adds people of other organisations."
        ),
        request=CallListIn,
        responses={200: CallListOut, **body_problems(403, 404, 412, 428)},
        examples=[OpenApiExample("two steps", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def put(self, request: Request, facility_id: int) -> Response:
        """The list as it stands now, with its new ETag."""
        facility = self.facility_or_404(facility_id)
        current = call_list_of(facility)
        version = current.version if current else 0
        check_match(request, version)
        body = CallListIn(data=request.data)
        body.is_valid(raise_exception=True)
        replace_call_list(
            facility=facility,
            version=version,
            repeat_minutes=body.validated_data["repeat_minutes"],
            steps=[_stated(step) for step in body.validated_data["steps"]],
            by=self.actor.name,
            stated_by=self.organisation_at(facility),
            now=self.now,
        )
        wake(tell)
        return _answer(facility)


class CallListPreview(ScopedView):
    """What the call list would do."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PreviewQuery

    @extend_schema(
        operation_id="preview_call_list",
        tags=["alarms"],
        summary="Who would be told when about an alarm that nobody answers",
        parameters=[PreviewQuery],
        responses={200: PreviewOut, **problem_responses(404, 422)},
        examples=[OpenApiExample("the first call", value=FORESEEN, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """A dry run: nobody is told and nothing is stored."""
        facility = self.facility_or_404(facility_id)
        raised_at = self.asked.get("raised_at", self.now)
        shown = preview(facility=facility, raised_at=raised_at, now=self.now)
        return Response(PreviewOut(shown, context={"zone": ZoneInfo(facility.time_zone)}).data)


def _stated(step: dict[str, Any]) -> StatedStep:
    return StatedStep(
        after_minutes=step["after_minutes"],
        recipients=[
            StatedContact(name=one["name"], email=one["email"], organisation=one.get("organisation"))
            for one in step["recipients"]
        ],
    )


def _answer(facility: Facility) -> Response:
    row = call_list_of(facility)
    shown = CallListOut(_shown(row) if row else _none_stated()).data
    return tagged(Response(shown), row.version if row else 0)


def _none_stated() -> dict[str, Any]:
    return {
        "version": 0,
        "repeat_minutes": REPEAT_MINUTES,
        "changed_at": None,
        "changed_by": None,
        "steps": [],
    }


def _shown(row: CallList) -> dict[str, Any]:
    return {
        "version": row.version,
        "repeat_minutes": row.repeat_minutes,
        "changed_at": row.changed_at,
        "changed_by": row.changed_by,
        "steps": [
            {
                "position": step.position,
                "after_minutes": step.after_minutes,
                "recipients": [
                    {"name": one.name, "email": one.email, "organisation": one.organisation_id}
                    for one in sorted(step.recipients.all(), key=lambda one: one.pk)
                ],
            }
            for step in sorted(row.steps.all(), key=lambda step: step.position)
        ],
    }

"""The call lists of a facility: the common one, and one for alarms of a priority."""

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.hours_shapes import HoursShape, hours_of
from alarms.conditions import Priority
from alarms.escalation import ONCE, REPEAT_MINUTES
from alarms.hours import hours_from_json
from alarms.models import CallList
from alarms.services.call_lists import MAX_RECIPIENTS, MAX_STEPS, replace_call_list
from alarms.services.contacts import StatedContact
from alarms.services.kept_calls import StatedStep
from alarms.services.plans import call_list_of
from alarms.tasks import tell
from equipment.api.etags import check_match, tagged
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
    recipients = serializers.ListField(
        child=RecipientIn(), required=False, default=list, max_length=MAX_RECIPIENTS
    )
    rotas = serializers.ListField(
        child=WholeField(min_value=1),
        required=False,
        default=list,
        max_length=MAX_RECIPIENTS,
        help_text="ids: whoever is on duty is told",
    )
    hours = HoursShape(required=False, allow_null=True, default=None, help_text="null: at any time")


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


class RotaNamed(StrictSerializer):
    """A rota on the list."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    organisation = serializers.IntegerField(source="organisation_id", help_text="id")


class StepOut(StrictSerializer):
    """A step of the list."""

    position = serializers.IntegerField()
    after_minutes = serializers.IntegerField()
    recipients = RecipientOut(many=True)
    rotas = RotaNamed(many=True)
    hours = HoursShape(allow_null=True)


class CallListOut(StrictSerializer):
    """The list as it stands; version 0: none was stated yet, and the operator's fallback people are told."""

    version = serializers.IntegerField(help_text="the ETag names it")
    repeat_minutes = serializers.IntegerField()
    changed_at = serializers.DateTimeField(allow_null=True)
    changed_by = serializers.CharField(allow_null=True)
    priority = serializers.CharField(allow_null=True, help_text="null: the common list")
    steps = StepOut(many=True)
    remarks = serializers.ListField(
        child=serializers.CharField(), help_text="where the list does not do what it seems to"
    )


DOCK = {"name": "Dock office", "email": "dock@example.com", "organisation": 2}
OWNER = {"name": "Owner on duty", "email": "owner@example.com", "organisation": 2}
STEPS = [{"after_minutes": 0, "recipients": [DOCK]}, {"after_minutes": 15, "recipients": [OWNER]}]
BODY = {"repeat_minutes": 30, "steps": STEPS}
ON_FILE = {
    "version": 3,
    "repeat_minutes": 30,
    "changed_at": "2026-03-01T12:00:00Z",
    "changed_by": "dock office",
    "priority": None,
    "steps": [
        {"position": position, "rotas": [], "hours": None, **step}
        for position, step in enumerate(STEPS, start=1)
    ],
    "remarks": [],
}
ANSWER_EXAMPLE = OpenApiExample("two steps", value=ON_FILE, response_only=True)
PRIORITY_EXAMPLE = OpenApiExample("two steps", value=ON_FILE | {"priority": "high"}, response_only=True)


class CallListView(ScopedView):
    """Reads and replaces one list of a facility."""

    rights: ClassVar = {"GET": Right.READ, "PUT": Right.ANSWER}

    def shown(self, facility: Facility, priority: str) -> Response:
        """The list with its ETag."""
        row = call_list_of(facility, priority=priority)
        body = CallListOut(_shown(row) if row else _none_stated(priority)).data
        return tagged(Response(body), row.version if row else 0)

    def replaced(self, request: Request, facility: Facility, priority: str) -> Response:
        """The list as it stands now, with its new ETag."""
        current = call_list_of(facility, priority=priority)
        version = current.version if current else 0
        check_match(request, version)
        body = CallListIn(data=request.data)
        body.is_valid(raise_exception=True)
        replace_call_list(
            facility=facility,
            priority=priority,
            version=version,
            repeat_minutes=body.validated_data["repeat_minutes"],
            steps=[_stated(step) for step in body.validated_data["steps"]],
            by=self.actor.name,
            stated_by=self.organisation_at(facility),
            now=self.now,
        )
        wake(tell)
        return self.shown(facility, priority)


class CallListOfFacility(CallListView):
    """The common list of a facility."""

    @extend_schema(
        operation_id="get_call_list",
        tags=["alarms"],
        summary="Who is told about alarms at a facility",
        responses={200: CallListOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The list with its ETag."""
        return self.shown(self.facility_or_404(facility_id), "")

    @extend_schema(
        operation_id="put_call_list",
        tags=["alarms"],
        summary="State who is told about alarms at a facility",
        description=(
            "Send If-Match with the ETag of your last read. Alarms that nobody has answered are called by the new "
            "list at once. Only the operator adds people and rotas of other organisations, takes "
            "them off, or has them called later, less often or within fewer hours. Outside the hours of a "
            "step or person, on their holidays and while they are away they are passed over: the next people who can "
            "be reached are called at once, at last the operator's own, so that somebody always is. An alarm of low "
            "priority is told once, to the first step that reaches anybody; the preview shows it."
        ),
        request=CallListIn,
        responses={200: CallListOut, **body_problems(403, 404, 412, 428)},
        examples=[OpenApiExample("two steps", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def put(self, request: Request, facility_id: int) -> Response:
        """The list as it stands now, with its new ETag."""
        return self.replaced(request, self.facility_or_404(facility_id), "")


class CallListOfPriority(CallListView):
    """The list of a facility for alarms of one priority."""

    @extend_schema(
        operation_id="get_call_list_of_priority",
        tags=["alarms"],
        summary="Who is told about alarms of one priority at a facility",
        description="Version 0 or no steps: alarms of this priority are called by the common list.",
        responses={200: CallListOut, **problem_responses(404)},
        examples=[PRIORITY_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int, priority: str) -> Response:
        """The list with its ETag."""
        return self.shown(self.facility_or_404(facility_id), _priority_or_404(priority))

    @extend_schema(
        operation_id="put_call_list_of_priority",
        tags=["alarms"],
        summary="State who is told about alarms of one priority at a facility",
        description=(
            "As the common list. Without steps the common one holds again for this priority. Of a list for low "
            "priority only the first step that reaches anybody is called, once; a remark says so."
        ),
        request=CallListIn,
        responses={200: CallListOut, **body_problems(403, 404, 412, 428)},
        examples=[OpenApiExample("two steps", value=BODY, request_only=True), PRIORITY_EXAMPLE],
    )
    def put(self, request: Request, facility_id: int, priority: str) -> Response:
        """The list as it stands now, with its new ETag."""
        return self.replaced(request, self.facility_or_404(facility_id), _priority_or_404(priority))


def _priority_or_404(word: str) -> str:
    if word not in list(Priority):
        raise Http404
    return word


def _stated(step: dict[str, Any]) -> StatedStep:
    return StatedStep(
        after_minutes=step["after_minutes"],
        recipients=[
            StatedContact(name=one["name"], email=one["email"], organisation=one.get("organisation"))
            for one in step["recipients"]
        ],
        rotas=list(dict.fromkeys(step["rotas"])),
        hours=hours_of(step["hours"]),
    )


def _none_stated(priority: str) -> dict[str, Any]:
    return {
        "version": 0,
        "repeat_minutes": REPEAT_MINUTES,
        "changed_at": None,
        "changed_by": None,
        "priority": priority or None,
        "steps": [],
        "remarks": [],
    }


def _shown(row: CallList) -> dict[str, Any]:
    return {
        "version": row.version,
        "repeat_minutes": row.repeat_minutes,
        "changed_at": row.changed_at,
        "changed_by": row.changed_by,
        "priority": row.priority or None,
        "steps": [
            {
                "position": step.position,
                "after_minutes": step.after_minutes,
                "recipients": [
                    {"name": one.name, "email": one.email, "organisation": one.organisation_id}
                    for one in sorted(step.recipients.all(), key=lambda one: one.pk)
                ],
                "rotas": sorted(step.rotas.all(), key=lambda one: one.pk),
                "hours": hours_from_json(step.hours),
            }
            for step in sorted(row.steps.all(), key=lambda step: step.position)
        ],
        "remarks": [ONCE] if row.priority == Priority.LOW and len(row.steps.all()) > 1 else [],
    }

"""Alarms: listed over all facilities, and read one by one."""

from datetime import datetime
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.closing import lacks_to_close
from alarms.conditions import ConditionClass, condition_or_unlisted
from alarms.lifecycle import State
from alarms.mark_queries import marked, marks_of, with_marks
from alarms.marks import MEANING, Mark
from alarms.models import Alarm
from alarms.models.alarms import IS_ALARM
from alarms.queries import alarms_at, closed_or_not, open_or_not
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import MAX_ID, ListedField
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right, facilities_visible_to

MARKS = {"type": "array", "items": {"type": "string", "enum": [str(mark) for mark in Mark]}}


class AlarmOut(StrictSerializer):
    """One episode of one condition. Either `component` or `device` says where; both null: the facility as a whole."""

    id = serializers.IntegerField()
    facility = serializers.IntegerField(source="facility_id")
    facility_name = serializers.CharField(source="facility.name")
    component = serializers.CharField(
        source="component.tag", allow_null=True, default=None, help_text="its tag"
    )
    device = serializers.SerializerMethodField(help_text="what a device calls itself that is not registered")
    condition = serializers.CharField(help_text="slug of the catalogue, or the sender's own word")
    title = serializers.SerializerMethodField()
    condition_class = serializers.ChoiceField(
        choices=list(ConditionClass), allow_null=True, help_text="null: unknown"
    )
    priority = serializers.CharField()
    state = serializers.ChoiceField(choices=list(State))
    raised_at = serializers.DateTimeField()
    discovered_at = serializers.DateTimeField(allow_null=True, help_text="null: as soon as it was raised")
    opened_at = serializers.DateTimeField(help_text="when it reached us")
    last_raised_at = serializers.DateTimeField()
    occurrences = serializers.IntegerField(help_text="how often it was raised in this episode")
    cleared_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True, help_text="when it was over and answered for")
    shelved_until = serializers.DateTimeField(allow_null=True, help_text="it comes back by itself then")
    merged_into = serializers.IntegerField(
        source="merged_into_id",
        allow_null=True,
        help_text="the alarm that this one turned out to be a part of",
    )
    closed = serializers.SerializerMethodField(
        help_text="over, answered for, and said what it turned out to be; a late message or a withdrawal reopens it"
    )
    to_close = serializers.SerializerMethodField(help_text="what is missing before it is closed")
    function_check = serializers.IntegerField(
        source="exercise_id", allow_null=True, help_text="number of the function check that raised it"
    )
    stood_on_at = serializers.DateTimeField(
        allow_null=True, help_text="when it turned out to be real and no part of that check; null: it did not"
    )
    acknowledged_at = serializers.DateTimeField(allow_null=True)
    acknowledged_by = serializers.CharField(allow_null=True)
    acknowledged_note = serializers.CharField(allow_null=True)
    acknowledged_until = serializers.DateTimeField(
        allow_null=True,
        help_text="it came back after it was acknowledged: if it still stands then, people are called again",
    )
    told_at = serializers.DateTimeField(allow_null=True, help_text="when the last mail about it went out")
    untold_since = serializers.DateTimeField(
        allow_null=True, help_text="since when it is known that nobody can be told; a mail sent ends it"
    )
    untold_reason = serializers.CharField(allow_null=True)
    clock_note = serializers.CharField(
        allow_null=True,
        help_text="what the law wants done about it by the hour; noted within a minute of judging",
    )
    clock_until = serializers.DateTimeField(
        allow_null=True, help_text="until when; null: no such clock runs, or it was answered"
    )
    clock_from = serializers.DateTimeField(allow_null=True, help_text="since when that clock runs")
    called_from = serializers.DateTimeField(
        help_text="calls are timed from here: its opening, or its coming back"
    )
    marks = serializers.SerializerMethodField(help_text="what is amiss with it as an alarm, as of now")
    next_step = serializers.IntegerField(help_text="number of the next call of the call list")
    next_step_at = serializers.DateTimeField(allow_null=True, help_text="null: nobody else is called")

    def get_device(self, alarm: Alarm) -> str | None:
        """None where a component is known, or the facility as a whole is meant."""
        return alarm.device or None

    def get_title(self, alarm: Alarm) -> str:
        """The condition in plain words."""
        return condition_or_unlisted(alarm.condition).title

    def get_closed(self, alarm: Alarm) -> bool:
        """Whether nothing is missing."""
        return not self.get_to_close(alarm)

    def get_to_close(self, alarm: Alarm) -> list[str]:
        """Of a row that came through `alarms_at`."""
        return list(
            lacks_to_close(
                State(alarm.state),
                stands=alarm.cleared_at is None,
                disposed=getattr(alarm, "is_disposed"),  # noqa: B009 - annotated
                merged=alarm.merged_into_id is not None,
            )
        )

    @extend_schema_field(MARKS)
    def get_marks(self, alarm: Alarm) -> list[str]:
        """Words of `Mark`."""
        return [str(mark) for mark in marks_of(alarm)]


class AlarmQuery(PagedQuery):
    """Which alarms to list."""

    facility = serializers.IntegerField(required=False, min_value=1, max_value=MAX_ID)
    state = ListedField(required=False, choices=list(State))
    condition_class = ListedField(required=False, choices=list(ConditionClass))
    condition = serializers.CharField(required=False, max_length=60)
    mark = ListedField(
        required=False,
        choices=list(Mark),
        help_text=" ".join(f"{mark}: {text}" for mark, text in MEANING.items()),
    )
    open = serializers.BooleanField(required=False, help_text="true: not ended; false: ended")
    closed = serializers.BooleanField(
        required=False,
        help_text="true: ended, and said what it turned out to be; false: something is missing",
    )


ALARM_EXAMPLE = OpenApiExample(
    "liquid in a sump, not answered yet",
    value={
        "id": 12,
        "facility": 7,
        "facility_name": "Point Three Marina",
        "component": "SU1",
        "device": None,
        "condition": "sump-liquid",
        "title": "Liquid in a sump",
        "condition_class": "unusual operating condition",
        "priority": "medium",
        "state": "unacknowledged",
        "raised_at": "2026-03-04T14:58:00Z",
        "discovered_at": None,
        "opened_at": "2026-03-04T15:00:00Z",
        "last_raised_at": "2026-03-04T14:58:00Z",
        "occurrences": 1,
        "cleared_at": None,
        "ended_at": None,
        "shelved_until": None,
        "merged_into": None,
        "closed": False,
        "to_close": ["still standing", "not acknowledged", "no disposition since it was last raised"],
        "function_check": None,
        "stood_on_at": None,
        "acknowledged_at": None,
        "acknowledged_by": None,
        "acknowledged_note": None,
        "acknowledged_until": None,
        "told_at": "2026-03-04T15:00:02Z",
        "untold_since": None,
        "untold_reason": None,
        "clock_note": "Suspected release reported within 24 hours (40 CFR 280.50(a)-(c))",
        "clock_until": "2026-03-05T14:58:00Z",
        "clock_from": "2026-03-04T14:58:00Z",
        "called_from": "2026-03-04T15:00:00Z",
        "marks": [],
        "next_step": 2,
        "next_step_at": "2026-03-04T15:15:00Z",
    },
    response_only=True,
)


class AlarmView(ScopedView):
    """What every view of one alarm needs: the alarm, if it is the caller's to see."""

    def alarm_or_404(self, alarm_id: int) -> Alarm:
        """The alarm; 404 when it is not the actor's to see, 403 when it is but the right is missing."""
        alarm = with_marks(alarms_at(self.facilities()), at=self.now).filter(pk=alarm_id).first()
        if alarm is not None:
            return alarm
        seen = facilities_visible_to(self.actor, now=self.now)
        shown = Alarm.objects.filter(pk=alarm_id, facility__in=seen).select_related("facility").first()
        raise Http404 if shown is None else self.refusal_at(shown.facility)


class Alarms(ScopedView, GenericAPIView[Alarm]):
    """Every alarm at facilities that the caller may see."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = AlarmQuery
    serializer_class = AlarmOut

    @extend_schema(
        operation_id="list_alarms",
        tags=["alarms"],
        summary="Alarms at every facility that you may see, newest first",
        parameters=[AlarmQuery],
        responses={200: AlarmOut(many=True), **problem_responses(422)},
        examples=[ALARM_EXAMPLE],
    )
    def get(self, request: Request) -> Response:
        """One page of alarms."""
        asked = self.asked
        alarms = alarms_at(self.facilities()).filter(IS_ALARM)
        page = self.paginate_queryset(_filtered(alarms, asked, now=self.now))
        return self.get_paginated_response(AlarmOut(page, many=True).data)


class AlarmDetail(AlarmView):
    """One alarm."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_alarm",
        tags=["alarms"],
        summary="One alarm as it stands",
        responses={200: AlarmOut, **problem_responses(404)},
        examples=[ALARM_EXAMPLE],
    )
    def get(self, request: Request, alarm_id: int) -> Response:
        """The alarm."""
        return Response(AlarmOut(self.alarm_or_404(alarm_id)).data)


def _filtered(alarms: QuerySet[Alarm], asked: dict[str, Any], *, now: datetime) -> QuerySet[Alarm]:
    exact = {key: asked[key] for key in ("facility", "state", "condition_class", "condition") if key in asked}
    if "open" in asked:
        alarms = open_or_not(alarms, is_open=asked["open"])
    if "closed" in asked:
        alarms = closed_or_not(alarms, is_closed=asked["closed"])
    if "mark" in asked:
        alarms = marked(alarms, Mark(asked["mark"]), at=now)
    return with_marks(alarms.filter(**exact), at=now)

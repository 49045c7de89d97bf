"""The catalogue of activities: what can be recorded, with the measurements, an example and the safety caution."""

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.activities.catalogue import Activity, catalogue, standing_caution
from equipment.activities.definitions import SUBJECTS
from equipment.activities.schemas import example, json_schema
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import ListedField
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right


class ActivityOut(StrictSerializer):
    """An activity in the list."""

    slug = serializers.CharField(read_only=True, help_text="what a record names")
    title = serializers.CharField(read_only=True)
    family = serializers.CharField(read_only=True)
    cite = serializers.CharField(read_only=True, help_text="where it comes from")
    subjects = serializers.ListField(
        child=serializers.CharField(), read_only=True, help_text="component kinds, or facility, or person"
    )
    passes_when = serializers.CharField(
        read_only=True, allow_null=True, help_text="null: it counts by having been done"
    )
    caution = serializers.CharField(read_only=True, help_text="to be shown beside the task")


class ActivityDetailOut(ActivityOut):
    """An activity with all that a form needs."""

    standing_caution = serializers.SerializerMethodField(help_text="stands under every field task")
    measurements_schema = serializers.SerializerMethodField(help_text="JSON Schema 2020-12 of `measurements`")
    example = serializers.SerializerMethodField(help_text="believable measurements")

    def get_standing_caution(self, activity: Activity) -> str:
        """The sentence of every task."""
        return standing_caution().text

    def get_measurements_schema(self, activity: Activity) -> dict[str, Any]:
        """What `measurements` may hold."""
        return json_schema(activity)

    def get_example(self, activity: Activity) -> dict[str, Any]:
        """A filled-in one."""
        return example(activity)


class ActivityQuery(StrictQuery):
    """Which activities to list."""

    subject = ListedField(choices=SUBJECTS, required=False, help_text="only what is done to this kind")


LISTED = {
    "slug": "spill-bucket-test",
    "title": "Spill bucket tightness test",
    "family": "containment",
    "cite": "40 CFR 280.35(a)(1)(ii)",
    "subjects": ["spill_bucket"],
    "passes_when": "the level drop stays within the protocol's limit",
    "caution": "Keep ignition sources away from open buckets.",
}
ACTIVITY_LIST = inline_serializer("ActivityList", {"results": ActivityOut(many=True)})


class Activities(ScopedView):
    """What can be recorded."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = ActivityQuery

    @extend_schema(
        operation_id="list_activities",
        tags=["activities"],
        summary="What can be done and recorded",
        parameters=[ActivityQuery],
        responses={200: ACTIVITY_LIST, **problem_responses(422)},
        examples=[OpenApiExample("a test", value={"results": [LISTED]}, response_only=True)],
    )
    def get(self, request: Request) -> Response:
        """The whole catalogue: it is short, so it comes in one piece."""
        subject = self.asked.get("subject")
        listed = [one for one in catalogue().values() if subject is None or subject in one.subjects]
        return Response({"results": ActivityOut(listed, many=True).data})


class ActivityDetail(ScopedView):
    """One activity."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_activity",
        tags=["activities"],
        summary="One activity with its measurements",
        responses={200: ActivityDetailOut, **problem_responses(404)},
        examples=[
            OpenApiExample(
                "a test",
                value={
                    **LISTED,
                    "standing_caution": "Follow local codes and your licence.",
                    "measurements_schema": {"type": "object"},
                    "example": {"test_method": "hydrostatic"},
                },
                response_only=True,
            )
        ],
    )
    def get(self, request: Request, slug: str) -> Response:
        """The activity, its JSON Schema and an example."""
        activity = catalogue().get(slug)
        if activity is None:
            raise Http404
        return Response(ActivityDetailOut(activity).data)

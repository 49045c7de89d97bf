"""The catalogue of conditions."""

from datetime import timedelta
from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.conditions import Condition, ConditionClass, Priority, conditions, longest_shelving
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right
from equipment.vocabulary import Kind


class CautionOut(StrictSerializer):
    """A safety sentence, and what it rests on."""

    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class ConditionOut(StrictSerializer):
    """One condition in plain words."""

    slug = serializers.CharField()
    title = serializers.CharField()
    meaning = serializers.CharField()
    causes = serializers.ListField(child=serializers.CharField())
    first_steps = serializers.ListField(child=serializers.CharField())
    cautions = CautionOut(many=True)
    condition_class = serializers.ChoiceField(choices=list(ConditionClass))
    at = serializers.ListField(
        child=serializers.ChoiceField(Kind.choices),
        help_text="kinds of component that it can be about, a sensor by what it hangs on; empty: anywhere",
    )
    class_where_method = serializers.CharField(
        allow_null=True,
        help_text="its class where the device is the release-detection method; null: the same",
    )
    priority = serializers.ChoiceField(
        choices=list(Priority), help_text="low: the first people of the call list are told, once"
    )
    latches = serializers.BooleanField(
        source="nature.latches",
        help_text="true: that the device says it is over ends no alarm; a person resets it",
    )
    comes_and_goes = serializers.BooleanField(
        source="nature.comes_and_goes",
        help_text="true: raised again within a day of its end it is the same alarm, with one more occurrence",
    )
    longest_shelving_hours = serializers.SerializerMethodField(help_text="null: it is never shelved")
    cite = serializers.CharField()

    def get_longest_shelving_hours(self, condition: Condition) -> int | None:
        """By its priority."""
        if condition.condition_class == ConditionClass.RELEASED_PRODUCT:
            return None
        return longest_shelving()[condition.priority] // timedelta(hours=1)


EXAMPLE = OpenApiExample(
    "one of them",
    value=[
        {
            "slug": "delivery-needed",
            "title": "Delivery needed",
            "meaning": "The level fell to the point at which you wanted to order.",
            "causes": ["sales since the last delivery"],
            "first_steps": ["Order an amount that fits the free room of the tank."],
            "cautions": [{"text": "Know the free room in the tank.", "source": "40 CFR 280.30(a)"}],
            "condition_class": "operating",
            "at": ["tank_system", "tank", "compartment"],
            "class_where_method": None,
            "priority": "low",
            "latches": False,
            "comes_and_goes": False,
            "longest_shelving_hours": 168,
            "cite": "common practice, no source",
        }
    ],
    response_only=True,
)


class Conditions(ScopedView):
    """Every condition of the catalogue; the same for everybody."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="list_conditions",
        tags=["alarms"],
        summary="What an alarm can be about: meaning, causes, first steps, caution",
        responses={200: ConditionOut(many=True), **problem_responses()},
        examples=[EXAMPLE],
    )
    def get(self, request: Request) -> Response:
        """All of them, not paged: the catalogue is short."""
        return Response(ConditionOut(list(conditions().values()), many=True).data)

"""What an inspector would find at a facility on a day."""

from typing import Any, ClassVar

import msgspec
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.as_of import JudgedMomentField, KnownQuery, LookBackField, as_date
from compliance.api.examples import FINDING, LATE, NOT_SHOWN, example
from compliance.api.finding_shapes import FindingOut, LateOut, NotShownOut
from compliance.services.as_of import AsOf
from compliance.services.history import inspection_of
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right


class InspectionQuery(KnownQuery):
    """Which day, and how far back."""

    on = JudgedMomentField(required=False, help_text="local day, to its end, or instant; now unless told")
    look_back = LookBackField(default="12m", help_text="such as 12m, 400d or 5y")


class InspectionOut(serializers.Serializer[Any]):
    """Everything with a sentence of its own."""

    facility = serializers.IntegerField()
    name = serializers.CharField()
    on = serializers.DateField()
    known = serializers.CharField()
    standings = FindingOut(many=True, help_text="where each duty stood; what needs a person first")
    late = LateOut(many=True, help_text="delays that had not ended before the look-back began")
    not_shown = NotShownOut(many=True, help_text="what had to be on file that day and was not")


class FacilityInspection(ScopedView):
    """One facility on one day."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = InspectionQuery

    @extend_schema(
        operation_id="get_inspection",
        tags=["history"],
        summary="What an inspector would find on a day",
        description="From what was on file that day (`known=today`: from all that is on file today) and by the rules "
        "then in force. It helps to prepare; it is no agency's finding.",
        parameters=[InspectionQuery],
        responses={200: InspectionOut, **problem_responses(404, 409, 422)},
        examples=[
            example(
                "A late test, and a record that came later",
                {
                    "facility": 3,
                    "name": "Mallard Ferry Docks",
                    "on": "2026-02-27",
                    "known": "then",
                    "standings": [FINDING | {"days_late": 38}],
                    "late": [LATE],
                    "not_shown": [NOT_SHOWN],
                },
            )
        ],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The inspection."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        on = asked.get("on")
        as_of = AsOf(self.now if on is None else as_date(on), asked["known"])
        found = inspection_of(facility, as_of, look_back=asked["look_back"])
        about = {
            "facility": facility.pk,
            "name": facility.name,
            "on": as_of.day(facility).isoformat(),
            "known": as_of.known,
        }
        return Response(about | msgspec.to_builtins(found))

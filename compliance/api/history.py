"""What was late at a facility, with the evidence before and after each delay."""

from datetime import timedelta
from typing import Any, ClassVar

import msgspec
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.as_of import JudgedMomentField, KnownQuery, as_date
from compliance.api.examples import LATE, example
from compliance.api.finding_shapes import LateOut
from compliance.api.listed import WorkedOut
from compliance.rules.judging import LOOK_BACK_DAYS
from compliance.services.as_of import AsOf
from compliance.services.history import late_at
from equipment.api.fields import DayField
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import ListedField
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.faults import Fault, refuse
from equipment.tenancy import Right


class HistoryQuery(KnownQuery, PagedQuery):
    """Which delays."""

    rule = serializers.CharField(required=False)
    subject = serializers.CharField(
        required=False, help_text="its id in the site document: a tag, facility:3"
    )
    since = DayField(
        required=False,
        help_text="delays that ended before this local day are left out; five years before `until` unless told",
    )
    until = JudgedMomentField(
        required=False, help_text="seen from this local day, to its end, or instant; now unless told"
    )
    known = ListedField(
        ["then", "today"],
        default="today",
        help_text="`today`: by all that is on file today; `then`: by facts recorded until `until`",
    )


class FacilityHistory(ScopedView, GenericAPIView[Any]):
    """Delays of one facility."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = HistoryQuery
    serializer_class = LateOut
    pagination_class = WorkedOut

    @extend_schema(
        operation_id="list_late_intervals",
        tags=["history"],
        summary="Every delay of a facility's duties in a window, with the evidence before and after",
        description="By due, oldest first. A delay that still runs has `ended` null. One of a duty that ended later is "
        "told as of its last day.",
        parameters=[HistoryQuery],
        responses={200: LateOut(many=True), **problem_responses(404, 409, 422)},
        examples=[example("A test two weeks late", LATE)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        until = asked.get("until")
        as_of = AsOf(self.now if until is None else as_date(until), asked["known"])
        since = asked.get("since") or as_of.day(facility) - timedelta(days=LOOK_BACK_DAYS)
        if since > as_of.day(facility):
            refuse([Fault("/since", "lies after `until`", "order")], "The window is empty.")
        rows = late_at(facility, as_of, since=since, rule=asked.get("rule"), subject=asked.get("subject"))
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(msgspec.to_builtins(page))

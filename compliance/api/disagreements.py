"""Records that say the opposite of their numbers, over every facility that the caller may see."""

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.examples import DISPUTED, example
from compliance.api.record_shapes import RecordOut
from compliance.api.records import records_with_all
from compliance.queries import judged
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import MAX_ID
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.models import Record
from equipment.tenancy import Right


class DisagreementOut(RecordOut):
    """The record with its verdict, and where it was done."""

    facility_name = serializers.CharField(source="facility.name")
    operator = serializers.CharField(source="facility.operator.name")


class DisagreementQuery(PagedQuery):
    """Which disagreements to list."""

    facility = serializers.IntegerField(required=False, min_value=1, max_value=MAX_ID)


class Disagreements(ScopedView, GenericAPIView[Record]):
    """What has to be settled between an operator and whoever sent the record."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = DisagreementQuery
    serializer_class = DisagreementOut

    @extend_schema(
        operation_id="list_disagreements",
        tags=["records"],
        summary="Records that report the opposite of what their numbers say, newest first",
        description="Seen by the operator and by the contractor at each facility that they may read. The computed "
        "verdict counts. A record leaves the list when it is corrected (`supersedes`) or withdrawn.",
        parameters=[DisagreementQuery],
        responses={200: DisagreementOut(many=True), **problem_responses(422)},
        examples=[example("A pass that its numbers do not show", DISPUTED)],
    )
    def get(self, request: Request) -> Response:
        """One page of those that stand."""
        rows = records_with_all().filter(
            judged(disagreement=True), facility__in=self.facilities(), withdrawn_at=None, superseded_by=None
        )
        if "facility" in self.asked:
            rows = rows.filter(facility=self.asked["facility"])
        page: Any = self.paginate_queryset(rows.select_related("facility__operator"))
        return self.get_paginated_response(DisagreementOut(page, many=True).data)

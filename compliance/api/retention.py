"""Until when records, papers and designations must be kept. Advice only: nothing is deleted here."""

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.examples import KEPT, example
from compliance.api.listed import WorkedOut
from compliance.rules.retention import KEEP, RetentionAnswer
from compliance.services.retention import retention_at, retention_of_record
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.models import Record
from equipment.tenancy import Right

UNTIL = "last local day; null: no end is in sight"


class KeepingRuleOut(serializers.Serializer[Any]):
    """What one rule asks."""

    rule = serializers.CharField()
    pack = serializers.CharField()
    title = serializers.CharField()
    keep = serializers.SerializerMethodField()
    until = serializers.DateField(allow_null=True, help_text=UNTIL)
    sentence = serializers.CharField()
    cite = serializers.CharField()
    verified = serializers.CharField()

    def get_keep(self, answer: RetentionAnswer) -> bool:
        """Whether this rule still wants it."""
        return answer.standing == KEEP


class KeptOut(serializers.Serializer[Any]):
    """One row on file and how long it is wanted."""

    subject = serializers.CharField(help_text="its id in the site document: record:88, document:3")
    kind = serializers.ChoiceField(["record", "document", "designation"])
    about = serializers.CharField(help_text="activity, type of paper, or operator class")
    on = serializers.CharField(allow_null=True, help_text="when it was done, issued or begun")
    keep = serializers.BooleanField(help_text="false: it may be discarded, which is advice and no order")
    until = serializers.DateField(allow_null=True, help_text=f"over all rules: {UNTIL}")
    advice = serializers.CharField()
    rules = KeepingRuleOut(many=True, source="answers", help_text="none: no loaded rule names it; it is kept")


class RetentionQuery(PagedQuery):
    """Which rows."""

    kind = serializers.ChoiceField(["record", "document", "designation"], required=False)
    keep = serializers.BooleanField(required=False, allow_null=True, default=None)


class FacilityRetention(ScopedView, GenericAPIView[Any]):
    """Everything that is kept at one facility."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = RetentionQuery
    serializer_class = KeptOut
    pagination_class = WorkedOut

    @extend_schema(
        operation_id="list_retention",
        tags=["history"],
        summary="Until when each record, paper and designation must be kept, and by which rule",
        description="Records first, newest first. Over several rules the longest wins; what no loaded rule names is "
        "kept.",
        parameters=[RetentionQuery],
        responses={200: KeptOut(many=True), **problem_responses(404, 409, 422)},
        examples=[example("A test kept three years", KEPT)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        rows = [
            row
            for row in retention_at(facility, now=self.now)
            if asked.get("kind") in (None, row.kind) and asked["keep"] in (None, row.keep)
        ]
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(KeptOut(page, many=True).data)


class RecordRetention(ScopedView):
    """One record."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_record_retention",
        tags=["history"],
        summary="Until when one record must be kept, and by which rule",
        responses={200: KeptOut, **problem_responses(404, 409)},
        examples=[example("A test kept three years", KEPT)],
    )
    def get(self, request: Request, facility_id: int, record_id: int) -> Response:
        """The record's keeping."""
        facility = self.facility_or_404(facility_id)
        if not Record.objects.filter(facility=facility, pk=record_id).exists():
            raise Http404
        return Response(KeptOut(retention_of_record(facility, record_id, now=self.now)).data)

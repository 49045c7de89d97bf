"""Obligations: what the rules ask, where it stands, and why."""

from datetime import date
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

import django_filters
from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.examples import FINDING, OBLIGATION, example
from compliance.api.record_shapes import due_text
from compliance.models import Obligation, StandingWord
from compliance.queries import obligations_at
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right


class ObligationOut(serializers.Serializer[Any]):
    """One rule at one subject."""

    id = serializers.IntegerField(source="pk")
    facility = serializers.IntegerField(source="facility_id")
    facility_name = serializers.CharField(source="facility.name")
    rule = serializers.CharField()
    pack = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    subject_kind = serializers.CharField()
    party = serializers.CharField()
    standing = serializers.ChoiceField(StandingWord.choices)
    due = serializers.SerializerMethodField()
    days_late = serializers.SerializerMethodField()
    sentence = serializers.CharField(source="finding.sentence")
    cite = serializers.CharField()
    verified = serializers.CharField(help_text="how well the citation was verified; see the rule")
    changed_at = serializers.DateTimeField()

    def get_due(self, obligation: Obligation) -> str | None:
        """A local day, in time to its end, or an instant of an hour clock."""
        return due_text(obligation)

    def get_days_late(self, obligation: Obligation) -> int:
        """Local days between due and now; 0 while it is in time."""
        return days_late(
            obligation, today=self.context["now"].astimezone(ZoneInfo(obligation.facility.time_zone)).date()
        )


class ObligationDetailOut(ObligationOut):
    """The same with the whole finding: evidence, late intervals, what was read, what is missing."""

    finding = serializers.DictField()


class ObligationFilter(django_filters.FilterSet):  # type: ignore[misc]
    """Narrows a list of obligations."""

    standing = django_filters.ChoiceFilter(choices=StandingWord.choices)
    rule = django_filters.CharFilter()
    subject = django_filters.CharFilter()
    late_before = django_filters.IsoDateTimeFilter(field_name="late_from", lookup_expr="lt")

    class Meta:
        model = Obligation
        fields: ClassVar = ["standing", "rule", "subject"]


def days_late(obligation: Obligation, *, today: date) -> int:
    """Local days by which an unmet obligation is late."""
    due = obligation.due_on
    if obligation.due_at is not None:
        due = obligation.due_at.astimezone(ZoneInfo(obligation.facility.time_zone)).date()
    open_words = (StandingWord.OVERDUE, StandingWord.FAILED, StandingWord.NO_RECORD)
    return max(0, (today - due).days) if due and obligation.standing in open_words else 0


class _ObligationList(ScopedView, GenericAPIView[Obligation]):
    rights: ClassVar = {"GET": Right.READ}
    serializer_class = ObligationOut
    filterset_class = ObligationFilter

    def answer(self, rows: QuerySet[Obligation]) -> Response:
        """One filtered page."""
        page = self.paginate_queryset(self.filter_queryset(rows))
        return self.get_paginated_response(ObligationOut(page, many=True, context={"now": self.now}).data)


class Obligations(_ObligationList):
    """Over the whole portfolio."""

    @extend_schema(
        operation_id="list_obligations",
        tags=["obligations"],
        summary="Obligations of every facility you may see",
        responses={200: ObligationOut(many=True), **problem_responses()},
        examples=[example("An overdue test", OBLIGATION)],
    )
    def get(self, request: Request) -> Response:
        """One page."""
        return self.answer(obligations_at(self.facilities()))


class FacilityObligations(_ObligationList):
    """At one facility."""

    @extend_schema(
        operation_id="list_facility_obligations",
        tags=["obligations"],
        summary="Obligations of one facility",
        responses={200: ObligationOut(many=True), **problem_responses(404)},
        examples=[example("An overdue test", OBLIGATION)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        facility = self.facility_or_404(facility_id)
        return self.answer(obligations_at(self.facilities().filter(pk=facility.pk)))


class OneObligation(ScopedView):
    """One obligation, explained."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_obligation",
        tags=["obligations"],
        summary="One obligation with its evidence and its why",
        responses={200: ObligationDetailOut, **problem_responses(404)},
        examples=[example("An overdue test", OBLIGATION | {"finding": FINDING})],
    )
    def get(self, request: Request, obligation_id: int) -> Response:
        """The whole finding."""
        row = obligations_at(self.facilities()).filter(pk=obligation_id).first()
        if row is None:
            raise Http404
        data: Any = ObligationDetailOut(row, context={"now": self.now}).data
        return Response(data)

"""Obligations: what the rules ask, where it stands, and why."""

from collections.abc import Iterable
from datetime import date
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.as_of import AsOfQuery, as_of_asked
from compliance.api.examples import FINDING, OBLIGATION, example
from compliance.api.listed import WorkedOut
from compliance.api.record_shapes import due_text
from compliance.models import Obligation, StandingWord
from compliance.queries import obligations_at
from compliance.services.as_of import AsOf, obligations_as_of
from equipment.api.fields import InstantField
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.models import Facility
from equipment.tenancy import Right

NOT_REQUIRED = "not required"
ANY_STANDING = [*StandingWord.choices, (NOT_REQUIRED, "Not Required")]


class ObligationOut(serializers.Serializer[Any]):
    """One rule at one subject."""

    id = serializers.IntegerField(source="pk", allow_null=True, help_text="null: judged for this answer only")
    facility = serializers.IntegerField(source="facility_id")
    facility_name = serializers.CharField(source="facility.name")
    rule = serializers.CharField()
    pack = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    subject_kind = serializers.CharField()
    party = serializers.CharField()
    standing = serializers.ChoiceField(ANY_STANDING)
    due = serializers.SerializerMethodField()
    days_late = serializers.SerializerMethodField()
    sentence = serializers.CharField(source="finding.sentence")
    cite = serializers.CharField()
    verified = serializers.CharField(help_text="how well the citation was verified; see the rule")
    reason = serializers.SerializerMethodField()
    changed_at = serializers.DateTimeField(allow_null=True, help_text="null: judged for this answer only")

    def get_reason(self, obligation: Obligation) -> str:
        """Why it is not required; empty where it is."""
        return str(obligation.finding.get("reason", ""))

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


class ObligationQuery(PagedQuery):
    """What narrows a list of obligations."""

    standing = serializers.ChoiceField(StandingWord.choices, required=False)
    rule = serializers.CharField(required=False)
    subject = serializers.CharField(
        required=False, help_text="its id in the site document: a tag, facility:3"
    )
    late_before = InstantField(required=False, help_text="late before this instant")


class FacilityObligationQuery(AsOfQuery, ObligationQuery):
    """The same at one facility, where another moment can be asked for, and what is not required."""

    standing = serializers.ChoiceField(
        ANY_STANDING, required=False, help_text="`not required` together with include_not_required only"
    )
    include_not_required = serializers.BooleanField(
        default=False, help_text="judged on the fly: also what is not required, with its reason"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """What is not required is not kept, so that an empty list would say the opposite of what holds."""
        if attrs.get("standing") == NOT_REQUIRED and not attrs["include_not_required"]:
            raise serializers.ValidationError({"standing": "Ask with include_not_required=true as well."})
        return super().validate(attrs)


FILTERS = ("standing", "rule", "subject")


def narrowed_rows(rows: QuerySet[Obligation], asked: dict[str, Any]) -> QuerySet[Obligation]:
    """Those on file that fit the filters."""
    wanted = {name: asked[name] for name in FILTERS if name in asked}
    if "late_before" in asked:
        wanted["late_from__lt"] = asked["late_before"]
    return rows.filter(**wanted)


def narrowed(rows: Iterable[Obligation], asked: dict[str, Any]) -> list[Obligation]:
    """Those judged for this answer that fit the filters."""
    before = asked.get("late_before")
    return [
        row
        for row in rows
        if all(asked.get(name) in (None, getattr(row, name)) for name in FILTERS)
        and (before is None or (row.late_from is not None and row.late_from < before))
    ]


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

    def answer(self, rows: QuerySet[Obligation]) -> Response:
        """One filtered page."""
        page = self.paginate_queryset(narrowed_rows(rows, self.asked))
        return self.get_paginated_response(ObligationOut(page, many=True, context={"now": self.now}).data)


class Obligations(_ObligationList):
    """Over the whole portfolio."""

    query_shape: ClassVar = ObligationQuery

    @extend_schema(
        operation_id="list_obligations",
        tags=["obligations"],
        summary="Obligations of every facility you may see",
        parameters=[ObligationQuery],
        responses={200: ObligationOut(many=True), **problem_responses(422)},
        examples=[example("An overdue test", OBLIGATION)],
    )
    def get(self, request: Request) -> Response:
        """One page."""
        return self.answer(obligations_at(self.facilities()))


class FacilityObligations(_ObligationList):
    """At one facility."""

    query_shape: ClassVar = FacilityObligationQuery

    @extend_schema(
        operation_id="list_facility_obligations",
        tags=["obligations"],
        summary="Obligations of one facility",
        description="As last judged; or, with `as_of`, as they stood at another moment: judged on the fly, nothing "
        "is stored, and `id` and `changed_at` are null.",
        parameters=[FacilityObligationQuery],
        responses={200: ObligationOut(many=True), **problem_responses(404, 409, 422)},
        examples=[example("An overdue test", OBLIGATION)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        as_of = as_of_asked(asked)
        if as_of is not None or asked["include_not_required"]:
            return self.worked_out(facility, as_of or AsOf(self.now, "today"), asked)
        return self.answer(obligations_at(self.facilities().filter(pk=facility.pk)))

    def worked_out(self, facility: Facility, as_of: AsOf, asked: dict[str, Any]) -> Response:
        """One page of what judging says of another moment."""
        rows = obligations_as_of(facility, as_of, everything=asked["include_not_required"])
        pages = WorkedOut()
        page = pages.paginate_queryset(narrowed(rows, asked), self.request, view=self)
        context = {"now": as_of.instant(facility)}
        return pages.get_paginated_response(ObligationOut(page, many=True, context=context).data)


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

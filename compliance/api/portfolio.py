"""The portfolio: one row a facility, worst first."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.people_queries import told_to_nobody
from compliance.api.as_of import AsOfQuery, as_of_asked
from compliance.api.examples import STANDING, example
from compliance.models import Standing, StandingWord
from compliance.queries import portfolio_of
from compliance.rulepacks import law_digest
from compliance.services.as_of import AsOf, on_file, standings_as_of
from compliance.services.assess import open_standings
from equipment.api.paging import NewestFirst, OldestFirst
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right


def is_fresh(standing: Standing, *, now: datetime) -> bool:
    """Whether a judgement now would have to say the same."""
    changes_at = standing.changes_at
    return (
        standing.facts_version == standing.facility.facts_version
        and standing.packs_digest == law_digest()
        and (changes_at is None or changes_at > now)
    )


class StandingOut(serializers.Serializer[Any]):
    """How a facility stands, and when that was last judged."""

    facility = serializers.IntegerField(source="facility_id")
    code = serializers.CharField(source="facility.code")
    name = serializers.CharField(source="facility.name")
    operator = serializers.CharField(source="facility.operator.name")
    facility_state = serializers.CharField(source="facility.facility_state", allow_null=True)
    worst = serializers.ChoiceField(StandingWord.choices, allow_null=True)
    counts = serializers.DictField(child=serializers.IntegerField())
    disagreements = serializers.IntegerField(
        help_text="records that say the opposite of their numbers; GET /api/v1/disagreements"
    )
    incomplete_tests = serializers.IntegerField(
        help_text="records without the numbers that their protocol needs; GET .../records?verdict=incomplete"
    )
    next_late_from = serializers.DateTimeField(
        allow_null=True, help_text="when the next obligation would become late"
    )
    judged_at = serializers.DateTimeField(allow_null=True)
    fresh = serializers.SerializerMethodField()
    last_error = serializers.CharField(help_text="why it could not be judged; empty when it could")
    nobody_to_tell = serializers.SerializerMethodField()

    def get_fresh(self, standing: Standing) -> bool:
        """False while facts or rules have arrived that were not judged yet, or the judgement is past its moment."""
        return is_fresh(standing, now=self.context["now"])

    @extend_schema_field(
        serializers.BooleanField(
            allow_null=True,
            help_text="true: an alarm here would be told to nobody; state a call list, or fallback people of the "
            "operator. Null with `as_of`: nobody is told of the past",
        )
    )
    def get_nobody_to_tell(self, standing: Standing) -> bool | None:
        """As it is now."""
        silent: set[int] | None = self.context["silent"]
        return None if silent is None else standing.facility_id in silent


def shown(standings: Sequence[Standing], *, now: datetime, today: bool = True) -> list[dict[str, Any]]:
    """Standings as the API answers them; `today` false: those of another moment."""
    silent = told_to_nobody([one.facility_id for one in standings], now=now) if today else None
    return [
        dict(one) for one in StandingOut(standings, many=True, context={"now": now, "silent": silent}).data
    ]


class WorstFirst(NewestFirst):
    """What could not be judged first, then by the worst open obligation, then by facility."""

    ordering = "-rank"


class FewAtATime(OldestFirst):
    """Pages of facilities that are judged for the request: in order of their ids, few at a time."""

    page_size = 20
    max_page_size = 50


class PortfolioQuery(AsOfQuery, PagedQuery):
    """What a portfolio can be asked."""


class Portfolio(ScopedView, GenericAPIView[Standing]):
    """Every facility the caller may see."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PortfolioQuery
    serializer_class = StandingOut
    pagination_class = WorstFirst

    @extend_schema(
        operation_id="list_portfolio",
        tags=["portfolio"],
        summary="How every facility stands, worst first",
        description="As last judged. With `as_of` every facility of the page is judged for that moment on the fly: "
        "such pages hold 20 facilities unless told, 50 at most, come in the order of facilities, and leave out those "
        "of which nothing was on file by then; `judged_at` is the time of the request.",
        parameters=[PortfolioQuery],
        responses={200: StandingOut(many=True), **problem_responses(422)},
        examples=[example("A marina with overdue tests", STANDING)],
    )
    def get(self, request: Request) -> Response:
        """One page."""
        as_of = as_of_asked(self.asked)
        if as_of is not None:
            return self.worked_out(as_of)
        open_standings(self.facilities())
        page = self.paginate_queryset(portfolio_of(self.facilities())) or []
        return self.get_paginated_response(shown(page, now=self.now))

    def worked_out(self, as_of: AsOf) -> Response:
        """One page of another moment."""
        pages = FewAtATime()
        rows = on_file(self.facilities(), as_of).select_related("operator")
        page = pages.paginate_queryset(rows, self.request, view=self) or []
        standings = standings_as_of(page, as_of, now=self.now)
        return pages.get_paginated_response(shown(standings, now=self.now, today=False))


class OneStanding(ScopedView):
    """One facility's row."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_standing",
        tags=["portfolio"],
        summary="How one facility stands",
        responses={200: StandingOut, **problem_responses(404)},
        examples=[example("A marina with overdue tests", STANDING)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The facility's standing."""
        facility = self.facility_or_404(facility_id)
        open_standings(self.facilities().filter(pk=facility.pk))
        row = portfolio_of(self.facilities()).get(pk=facility.pk)
        return Response(shown([row], now=self.now)[0])

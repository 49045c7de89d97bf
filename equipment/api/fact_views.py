"""The doorways of every resource in `fact_resources`: its facts listed, stated, ended, withdrawn.

Each resource gets view classes of its own, made here, so that each operation is described by itself.
"""

from collections.abc import Mapping
from typing import Any, ClassVar, TypeVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_view
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.attachment_shapes import NAMED
from equipment.api.change_shapes import WithdrawalIn
from equipment.api.fact_resources import Resource
from equipment.api.fact_shapes import EndIn
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.api.withdrawals import take_back
from equipment.models import Designation, Document, Facility, FacilityFact
from equipment.services.stating import end_fact
from equipment.tenancy import Right

# How an answer looks while nobody took the fact back.
ON_FILE: dict[str, Any] = {
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-02-27T18:00:00Z",
    "recorded_by": "R. Ames",
}
View = TypeVar("View", bound="_FactView")


class _FactView(ScopedView):
    """Knows its resource, and finds a fact inside the caller's own facility."""

    resource: ClassVar[Resource]

    def fact_or_404(self, facility: Facility, fact_id: int) -> FacilityFact:
        """The fact; one of another facility does not exist."""
        fact = self.resource.rows().filter(facility=facility, pk=fact_id).first()
        if fact is None:
            raise Http404
        return fact

    def answer(self, fact: FacilityFact) -> dict[str, Any]:
        """The fact as the API shows it."""
        return dict(self.resource.answer(self.resource.rows().get(pk=fact.pk)).data)


class FactList(_FactView, GenericAPIView[FacilityFact]):
    """The facts of one kind at a facility."""

    query_shape: ClassVar = PagedQuery

    def get(self, request: Request, facility_id: int) -> Response:
        """One page, withdrawn ones too: they say so."""
        facility = self.facility_or_404(facility_id)
        page = self.paginate_queryset(self.resource.rows().filter(facility=facility))
        return self.get_paginated_response(self.resource.answer(page, many=True).data)

    def post(self, request: Request, facility_id: int) -> Response:
        """The fact as it now stands."""
        facility = self.facility_or_404(facility_id)
        organisation = self.organisation_at(facility)
        body = self.resource.body(data=request.data)
        body.is_valid(raise_exception=True)
        stated = self._stated(body.validated_data)

        def work() -> Mapping[str, Any]:
            fact = self.resource.state(
                facility=facility, submitted_by=organisation, by=self.actor.name, now=self.now, **stated
            )
            return self.answer(fact)

        return state_once(request, organisation=organisation, now=self.now, work=work)

    def _stated(self, checked: Mapping[str, Any]) -> dict[str, Any]:
        """What the service takes by name, and the plain columns together."""
        apart = {name: value for name, value in checked.items() if name in self.resource.apart}
        return apart | {"fields": {name: value for name, value in checked.items() if name not in apart}}


class FactWithdrawal(_FactView):
    """Taking back what was stated by mistake."""

    def post(self, request: Request, facility_id: int, fact_id: int) -> Response:
        """The fact with its withdrawal."""
        facility = self.facility_or_404(facility_id)
        fact = self.fact_or_404(facility, fact_id)
        taken = take_back(self, request, fact, facility=facility)
        return Response(self.answer(taken))


class FactEnd(_FactView):
    """Stating the last day of something that held until then."""

    def post(self, request: Request, facility_id: int, fact_id: int) -> Response:
        """The fact with its last day."""
        facility = self.facility_or_404(facility_id)
        fact = self.fact_or_404(facility, fact_id)
        body = EndIn(data=request.data)
        body.is_valid(raise_exception=True)
        if not isinstance(fact, Designation | Document):
            raise Http404
        ended = end_fact(
            fact=fact, ended_on=body.validated_data["ended_on"], by=self.actor.name, now=self.now
        )
        return Response(self.answer(ended))


def list_view(resource: Resource) -> type[FactList]:
    """The view that lists and states facts of this resource."""
    made = type(
        f"{resource.model.__name__}List",
        (FactList,),
        {
            "__doc__": f"{resource.about} at a facility.",
            "resource": resource,
            "rights": {"GET": Right.READ, "POST": resource.right},
            "serializer_class": resource.answer,
        },
    )
    words = resource.path.replace("-", " ")
    return extend_schema_view(
        get=extend_schema(
            operation_id=f"list_{resource.path.replace('-', '_')}",
            tags=[words],
            summary=f"{resource.about}, newest entry first",
            parameters=[PagedQuery],
            responses={200: resource.answer(many=True), **problem_responses(404, 422)},
            examples=[_answered(resource)],
        ),
        post=extend_schema(
            operation_id=f"state_{resource.noun}",
            tags=[words],
            summary=f"State one: {resource.about[0].lower()}{resource.about[1:]}",
            description="Nothing is edited afterwards: withdraw what was stated by mistake, and state it again.",
            request=resource.body,
            responses={201: resource.answer, **body_problems(403, 404, 409, 428)},
            examples=[
                OpenApiExample("as stated", value=dict(resource.example), request_only=True),
                _answered(resource),
            ],
        ),
    )(made)


def withdrawal_view(resource: Resource) -> type[FactWithdrawal]:
    """The view that takes facts of this resource back."""
    return _one_post(
        FactWithdrawal,
        resource,
        operation=f"withdraw_{resource.noun}",
        summary=f"Take back a {_spoken(resource)} that should never have been stated",
        description="It stays in the list with the reason. The same reason again changes nothing. Open to whoever "
        "stated it, and to the facility's operator.",
        request=WithdrawalIn,
        example={"reason": "Stated at the wrong site."},
    )


def end_view(resource: Resource) -> type[FactEnd]:
    """The view that states the last day of facts of this resource."""
    return _one_post(
        FactEnd,
        resource,
        operation=f"end_{resource.noun}",
        summary=f"State the last day of a {_spoken(resource)}",
        description="Once only: the same day again changes nothing, another day is refused with 409.",
        request=EndIn,
        example={"ended_on": "2026-06-30"},
    )


def _one_post(
    base: type[View],
    resource: Resource,
    *,
    operation: str,
    summary: str,
    description: str,
    request: type[StrictSerializer],
    example: Mapping[str, Any],
) -> type[View]:
    made = type(
        f"{resource.model.__name__}{base.__name__.removeprefix('Fact')}",
        (base,),
        {"__doc__": summary, "resource": resource, "rights": {"POST": resource.right}},
    )
    described = extend_schema(
        operation_id=operation,
        tags=[resource.path.replace("-", " ")],
        summary=summary,
        description=description,
        request=request,
        responses={200: resource.answer, **body_problems(403, 404, 409)},
        examples=[OpenApiExample("as sent", value=dict(example), request_only=True), _answered(resource)],
    )
    return extend_schema_view(post=described)(made)


def _spoken(resource: Resource) -> str:
    return resource.noun.removeprefix("agency_").replace("_", " ")


def _answered(resource: Resource) -> OpenApiExample:
    """The example of a statement as it is answered: every key, null for what was not said."""
    shown = dict.fromkeys(resource.answer().fields) | {"id": 7} | dict(resource.example) | ON_FILE
    if isinstance(shown.get("person"), int):
        shown["person"] = {"id": shown["person"], "name": "R. Ames"}
    if shown.get("attachments"):
        shown["attachments"] = [NAMED]
    return OpenApiExample("as on file", value=shown, response_only=True)

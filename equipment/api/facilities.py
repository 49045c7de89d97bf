"""Facilities: opened, listed, read and corrected."""

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.exceptions import PermissionDenied
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.etags import check_match, tagged
from equipment.api.fields import InstantField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField
from equipment.api.schema import KEY_IF_UNNAMED, body_problems, problem_responses
from equipment.api.stated import input_shape, output_shape
from equipment.api.views import ScopedView
from equipment.change_log import in_force_at_facilities
from equipment.faults import Fault, refuse
from equipment.models import Facility, Organisation
from equipment.services.register import correct_facility, open_facility
from equipment.tenancy import Actor, Right, refusal
from equipment.vocabulary import OrganisationKind

FacilityIn = input_shape(
    "FacilityIn",
    Facility,
    "A facility as its operator states it; what is left out or null is unknown.",
    {
        "operator": WholeField(
            required=False, help_text="id of your operator organisation; left out: it all the same"
        )
    },
)
FacilityCorrection = input_shape(
    "FacilityCorrection", Facility, "What was stated wrongly, put right; null says unknown."
)
FacilityOut = output_shape(
    "FacilityOut",
    Facility,
    "A facility with every stated fact; null means that nobody said.",
    {
        "id": WholeField(read_only=True),
        "operator": WholeField(source="operator_id", read_only=True),
        "version": WholeField(read_only=True, help_text="of this row; the ETag names it"),
        "facts_version": WholeField(read_only=True, help_text="rises with every fact stated about it"),
        "created_at": InstantField(read_only=True),
    },
)


class FacilityQuery(PagedQuery):
    """Which facilities to list."""

    name = TextField(required=False, help_text="part of the name, in any case")
    code = TextField(required=False, help_text="the operator's short name, exactly")
    facility_state = TextField(required=False, help_text="two letters")


BODY = {
    "code": "PT-3",
    "name": "Point Three Marina",
    "time_zone": "America/New_York",
    "jurisdictions": ["us-federal"],
    "facility_state": "NY",
    "over_water": True,
    "attended": None,
}
ANSWER = {"id": 7, "operator": 2, "version": 1, "facts_version": 1, **BODY, "status": None, "changed": {}}
REQUEST_EXAMPLE = OpenApiExample("a marina", value=BODY, request_only=True)
ANSWER_EXAMPLE = OpenApiExample("as on file", value=ANSWER, response_only=True)


class Facilities(ScopedView, GenericAPIView[Facility]):
    """Every facility that the caller may see."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.REGISTER}
    query_shape: ClassVar = FacilityQuery
    serializer_class = FacilityOut

    @extend_schema(
        operation_id="list_facilities",
        tags=["facilities"],
        summary="Facilities that you may see, newest first",
        parameters=[FacilityQuery],
        responses={200: FacilityOut(many=True), **problem_responses(422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request) -> Response:
        """One page of facilities."""
        asked = self.asked
        page = self.paginate_queryset(_filtered(self.facilities(), asked))
        return self.get_paginated_response(answers(page or []))

    @extend_schema(
        operation_id="open_facility",
        tags=["facilities"],
        summary="Open a facility",
        description="`code` tells a repeat from a new facility; an Idempotency-Key repeats the answer as well.",
        parameters=[KEY_IF_UNNAMED],
        request=FacilityIn,
        responses={201: FacilityOut, **body_problems(403, 409)},
        examples=[REQUEST_EXAMPLE, ANSWER_EXAMPLE],
    )
    def post(self, request: Request) -> Response:
        """The new facility, whose operator may do everything there from now on."""
        operator = operator_for(self.actor, right=Right.SHARE)
        body = FacilityIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = dict(body.validated_data)
        refuse_other(operator, stated.pop("operator", None))

        def work() -> Mapping[str, Any]:
            facility = open_facility(operator=operator, by=self.actor.name, now=self.now, fields=stated)
            return answers([facility])[0]

        return state_once(request, organisation=operator, now=self.now, work=work, named=True)


class FacilityDetail(ScopedView):
    """One facility."""

    rights: ClassVar = {"GET": Right.READ, "PATCH": Right.REGISTER}

    @extend_schema(
        operation_id="get_facility",
        tags=["facilities"],
        summary="One facility with every stated fact",
        responses={200: FacilityOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The facility with its ETag."""
        facility = self.facility_or_404(facility_id)
        return tagged(Response(answers([facility])[0]), facility.version)

    @extend_schema(
        operation_id="correct_facility",
        tags=["facilities"],
        summary="Put right what was stated wrongly about a facility",
        description="Send If-Match with the ETag of your last read. What began on some day is a change, not this.",
        request=FacilityCorrection,
        responses={200: FacilityOut, **body_problems(403, 404, 412, 428)},
        examples=[
            OpenApiExample("unknown again", value={"attended": None}, request_only=True),
            ANSWER_EXAMPLE,
        ],
    )
    def patch(self, request: Request, facility_id: int) -> Response:
        """The facility as corrected, with its new ETag."""
        facility = self.facility_or_404(facility_id)
        check_match(request, facility.version)
        body = FacilityCorrection(data=request.data, partial=True)
        body.is_valid(raise_exception=True)
        corrected = correct_facility(facility=facility, fields=body.validated_data)
        return tagged(Response(answers([corrected])[0]), corrected.version)


def answers(facilities: Sequence[Facility]) -> list[dict[str, Any]]:
    """Facilities as the API shows them, in the order given."""
    context = {"in_force": in_force_at_facilities([one.pk for one in facilities])}
    return [dict(one) for one in FacilityOut(facilities, many=True, context=context).data]


def operator_for(actor: Actor, *, right: Right) -> Organisation:
    """The operator in whose name the actor states what is there: its own organisation. 403 where that is none, or where
    the key lacks the right."""
    if not actor.may(right):
        raise PermissionDenied(refusal(actor, right))
    operator = Organisation.objects.get(pk=actor.organisation)
    if operator.kind != OrganisationKind.OPERATOR:
        raise PermissionDenied("Facilities belong to an operator; you act for none.")
    return operator


def refuse_other(operator: Organisation, organisation_id: int | None) -> None:
    """A body may name the operator once more, and nobody else."""
    if organisation_id not in (None, operator.pk):
        refuse([Fault("/operator", "no such operator organisation of yours", "unknown")])


def _filtered(facilities: QuerySet[Facility], asked: dict[str, Any]) -> QuerySet[Facility]:
    if "name" in asked:
        facilities = facilities.filter(name__icontains=asked["name"])
    exact = {key: asked[key] for key in ("code", "facility_state") if key in asked}
    return facilities.filter(**exact)

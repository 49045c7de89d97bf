"""The people of an organisation: a name and a number, to be named in designations and training records."""

from collections.abc import Mapping
from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.fields import InstantField
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import Person
from equipment.services.people import add_person
from equipment.tenancy import Right


class PersonIn(StrictSerializer):
    """Whom to put on the list. A name and nothing else: no contact data is kept here."""

    name = TextField(max_length=200)


class PersonOut(StrictSerializer):
    """A person as on file."""

    id = WholeField(read_only=True, help_text="names the person in designations and records")
    name = TextField(read_only=True)
    recorded_at = InstantField(read_only=True)
    recorded_by = TextField(read_only=True)


ANSWER = {
    "id": 12,
    "name": "R. Ames",
    "recorded_at": "2026-02-27T18:00:00Z",
    "recorded_by": "key 7Kq2 (Point)",
}
ANSWER_EXAMPLE = OpenApiExample("as on file", value=ANSWER, response_only=True)


class People(ScopedView, GenericAPIView[Person]):
    """Those who work for the caller's own organisation."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.REGISTER}
    query_shape: ClassVar = PagedQuery
    serializer_class = PersonOut

    @extend_schema(
        operation_id="list_people",
        tags=["people"],
        summary="The people of your organisation, newest entry first",
        parameters=[PagedQuery],
        responses={200: PersonOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int) -> Response:
        """One page of people."""
        organisation = self.own_organisation_or_404(organisation_id)
        page = self.paginate_queryset(organisation.people.all())
        return self.get_paginated_response(PersonOut(page, many=True).data)

    @extend_schema(
        operation_id="add_person",
        tags=["people"],
        summary="Put a person on the list of your organisation",
        request=PersonIn,
        responses={201: PersonOut, **body_problems(403, 404, 409, 428)},
        examples=[OpenApiExample("a name", value={"name": "R. Ames"}, request_only=True), ANSWER_EXAMPLE],
    )
    def post(self, request: Request, organisation_id: int) -> Response:
        """The person with the number that names them."""
        organisation = self.own_organisation_or_404(organisation_id)
        body = PersonIn(data=request.data)
        body.is_valid(raise_exception=True)
        name: str = body.validated_data["name"]

        def work() -> Mapping[str, Any]:
            person = add_person(organisation=organisation, name=name, by=self.actor.name, now=self.now)
            return PersonOut(person).data

        return state_once(request, organisation=organisation, now=self.now, work=work)

"""Fallback people of an operator: told where no call list reaches anybody."""

from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.contacts import PersonShape
from alarms.models import FallbackList
from alarms.services.contacts import StatedContact
from alarms.services.fallback_people import MAX_PEOPLE, fallback_list_of, replace_fallback_people
from alarms.tasks import tell
from equipment.api.etags import check_match, tagged
from equipment.api.fields import InstantField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import Organisation
from equipment.tenancy import Right
from equipment.waking import wake


class FallbackPeopleIn(StrictSerializer):
    """The whole list; what stood before is replaced."""

    people = serializers.ListField(
        child=PersonShape(),
        max_length=MAX_PEOPLE,
        help_text="people of your organisation; all of them are told at once",
    )


class FallbackPeopleOut(StrictSerializer):
    """The list as it stands; version 0: none was stated yet."""

    version = serializers.IntegerField(help_text="the ETag names it")
    people = PersonShape(many=True)
    changed_at = InstantField(allow_null=True)
    changed_by = serializers.CharField(allow_null=True)


BODY = {"people": [{"name": "R. Ames", "email": "r.ames@example.org"}]}
ANSWER = {"version": 1, **BODY, "changed_at": "2026-03-01T12:00:00Z", "changed_by": "dock office"}
ANSWER_EXAMPLE = OpenApiExample("one person", value=ANSWER, response_only=True)


class FallbackPeople(ScopedView):
    """The list of the caller's own organisation."""

    rights: ClassVar = {"GET": Right.READ, "PUT": Right.ANSWER}

    @extend_schema(
        operation_id="get_fallback_people",
        tags=["alarms"],
        summary="Who is told about alarms where no call list reaches anybody",
        responses={200: FallbackPeopleOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int) -> Response:
        """The list with its ETag."""
        return self._shown(self.own_organisation_or_404(organisation_id))

    @extend_schema(
        operation_id="put_fallback_people",
        tags=["alarms"],
        summary="State who is told about alarms where no call list reaches anybody",
        description=(
            "Send If-Match with the ETag of your last read. They are told about alarms at every facility of yours that "
            "has no call list, or where nobody of it can be reached, and get its daily mail about what is overdue. "
            "Their hours and stand-ins count as on a call list; where all of them are off, all are told. An empty list "
            "is refused while some facility would be left with nobody to tell. Alarms that wait for want of a list are "
            "called by the new one at once."
        ),
        request=FallbackPeopleIn,
        responses={200: FallbackPeopleOut, **body_problems(403, 404, 409, 412, 428)},
        examples=[OpenApiExample("one person", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def put(self, request: Request, organisation_id: int) -> Response:
        """The list as it stands now, with its new ETag."""
        organisation = self.own_organisation_or_404(organisation_id)
        current = fallback_list_of(organisation)
        version = current.version if current else 0
        check_match(request, version)
        body = FallbackPeopleIn(data=request.data)
        body.is_valid(raise_exception=True)
        people = [StatedContact(organisation=None, **one) for one in body.validated_data["people"]]
        replace_fallback_people(
            organisation=organisation, version=version, people=people, by=self.actor.name, now=self.now
        )
        wake(tell)
        return self._shown(organisation)

    def _shown(self, organisation: Organisation) -> Response:
        row = fallback_list_of(organisation)
        body = FallbackPeopleOut(_body(row)).data
        return tagged(Response(body), row.version if row else 0)


def _body(row: FallbackList | None) -> dict[str, Any]:
    if row is None:
        return {"version": 0, "people": [], "changed_at": None, "changed_by": None}
    people = sorted(row.people.all(), key=lambda one: one.position)
    return {
        "version": row.version,
        "people": [{"name": one.contact.name, "email": one.contact.email} for one in people],
        "changed_at": row.changed_at,
        "changed_by": row.changed_by,
    }

"""People of an organisation who are told: when and where they can be reached."""

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from alarms.api.hours_shapes import OFFICE_HOURS, ClockField, HoursShape, ZoneField, hours_of
from alarms.hours import hours_from_json
from alarms.models import Contact
from alarms.models.call_lists import MORNING
from alarms.services.contacts import set_reach
from equipment.api.etags import check_match, tagged
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.tenancy import Right


class PersonShape(StrictSerializer):
    """A person of the organisation, by name and address."""

    name = TextField(max_length=100)
    email = serializers.EmailField(max_length=254)


class ReachIn(StrictSerializer):
    """The whole of it; what stood before is replaced."""

    time_zone = ZoneField(
        required=False, allow_null=True, default=None, max_length=50, help_text="null: the facility's"
    )
    morning = ClockField(required=False, default=MORNING, help_text="when a digest of the day is due")
    hours = HoursShape(required=False, allow_null=True, default=None, help_text="null: at any time")


class ContactOut(StrictSerializer):
    """A person on a call list or rota, or a fallback person."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    email = serializers.CharField()
    version = serializers.IntegerField(help_text="the ETag names it")
    time_zone = serializers.CharField(allow_null=True)
    morning = ClockField()
    hours = serializers.SerializerMethodField()

    @extend_schema_field(HoursShape(allow_null=True))
    def get_hours(self, contact: Contact) -> dict[str, Any] | None:
        """As they were stated; null: at any time."""
        kept = hours_from_json(contact.hours)
        return None if kept is None else dict(HoursShape(kept).data)


BODY = {"time_zone": "America/New_York", "morning": "06:30", "hours": OFFICE_HOURS}
ANSWER: dict[str, Any] = {"id": 4, "name": "Dock office", "email": "dock@example.com", "version": 2, **BODY}
ANSWER_EXAMPLE = OpenApiExample("office hours", value=ANSWER, response_only=True)


class Contacts(ScopedView, GenericAPIView[Contact]):
    """Those of the caller's own organisation."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PagedQuery
    serializer_class = ContactOut

    @extend_schema(
        operation_id="list_contacts",
        tags=["alarms"],
        summary="People of your organisation who can be told, newest entry first",
        parameters=[PagedQuery],
        responses={200: ContactOut(many=True), **problem_responses(404, 422)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int) -> Response:
        """One page of people."""
        organisation = self.own_organisation_or_404(organisation_id)
        page = self.paginate_queryset(Contact.objects.filter(organisation=organisation))
        return self.get_paginated_response(ContactOut(page, many=True).data)


class ContactDetail(ScopedView):
    """One person."""

    rights: ClassVar = {"GET": Right.READ, "PUT": Right.ANSWER}

    @extend_schema(
        operation_id="get_contact",
        tags=["alarms"],
        summary="When a person of your organisation can be reached",
        responses={200: ContactOut, **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, organisation_id: int, contact_id: int) -> Response:
        """The person with the ETag."""
        return _answer(self._contact_or_404(organisation_id, contact_id))

    @extend_schema(
        operation_id="put_contact_reach",
        tags=["alarms"],
        summary="State when a person of your organisation can be reached",
        description="Holds wherever they are listed, from the next call on. Outside these hours the others of a step "
        "are called, or the next step at once: nobody is passed over into silence.",
        request=ReachIn,
        responses={200: ContactOut, **body_problems(403, 404, 412, 428)},
        examples=[OpenApiExample("office hours", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def put(self, request: Request, organisation_id: int, contact_id: int) -> Response:
        """The person as on file now, with the new ETag."""
        contact = self._contact_or_404(organisation_id, contact_id)
        check_match(request, contact.version)
        body = ReachIn(data=request.data)
        body.is_valid(raise_exception=True)
        stated = body.validated_data
        changed = set_reach(
            contact,
            version=contact.version,
            time_zone=stated["time_zone"],
            morning=stated["morning"],
            hours=hours_of(stated["hours"]),
        )
        return _answer(changed)

    def _contact_or_404(self, organisation_id: int, contact_id: int) -> Contact:
        organisation = self.own_organisation_or_404(organisation_id)
        contact = Contact.objects.filter(organisation=organisation, pk=contact_id).first()
        if contact is None:
            raise Http404
        return contact


def _answer(contact: Contact) -> Response:
    return tagged(Response(ContactOut(contact).data), contact.version)

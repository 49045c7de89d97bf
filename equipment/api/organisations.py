"""Organisations that the caller meets: its own, and those let in to a facility that it may see."""

from typing import ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import TextField, WholeField, WordField
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import Organisation
from equipment.tenancy import Right, organisations_visible_to
from equipment.vocabulary import KeyRole, OrganisationKind


class OrganisationOut(StrictSerializer):
    """An organisation; `your_role` is null when it is not one of yours."""

    id = WholeField(read_only=True)
    name = TextField(read_only=True)
    kind = WordField(choices=OrganisationKind.choices, read_only=True)
    your_role = serializers.SerializerMethodField()

    @extend_schema_field(
        {"type": ["string", "null"], "enum": [*KeyRole.values, None], "description": "your role in it"}
    )
    def get_your_role(self, organisation: Organisation) -> str | None:
        """The member role of whoever asks."""
        roles: dict[int, str] = self.context["roles"]
        return roles.get(organisation.pk)


class Organisations(ScopedView, GenericAPIView[Organisation]):
    """Whom the caller meets."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = PagedQuery
    serializer_class = OrganisationOut

    @extend_schema(
        operation_id="list_organisations",
        tags=["access"],
        summary="Your organisations, and those that share a facility with you",
        parameters=[PagedQuery],
        responses={200: OrganisationOut(many=True), **problem_responses(422)},
        examples=[
            OpenApiExample(
                "your own",
                value={"id": 2, "name": "Point Marinas", "kind": "operator", "your_role": "manager"},
                response_only=True,
            )
        ],
    )
    def get(self, request: Request) -> Response:
        """One page of organisations."""
        page = self.paginate_queryset(organisations_visible_to(self.actor, now=self.now))
        shown = OrganisationOut(
            page, many=True, context={"roles": {self.actor.organisation: self.actor.role}}
        )
        return self.get_paginated_response(shown.data)

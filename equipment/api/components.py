"""Components of a facility: added, listed, read and corrected, each by its tag."""

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api import component_shapes as shapes
from equipment.api.etags import check_match, tagged
from equipment.api.idempotency import state_once
from equipment.api.query_strings import PagedQuery
from equipment.api.scalars import ListedField
from equipment.api.schema import KEY_IF_UNNAMED, body_problems, problem_responses
from equipment.api.views import ScopedView
from equipment.models import MODEL_OF_KIND, Component, Facility
from equipment.services.register import add_component, correct_component
from equipment.tenancy import Right
from equipment.vocabulary import Kind

# Figures are common practice, no source.
BODY: dict[str, Any] = {
    "kind": "spill_bucket",
    "tag": "SB1",
    "parent": "T1",
    "installed_on": "2014-05-02",
    "spill_bucket_wall_type": "single",
    "capacity_gal": 15.0,
    "drain_valve": None,
}
ANSWER = {
    "facility": 7,
    "version": 1,
    "replaces": None,
    "label": None,
    **BODY,
    "status": "currently in use",
    "changed": {"drain_valve": {"value": True, "effective_on": "2026-02-27"}},
}
ANSWER_EXAMPLE = OpenApiExample("as on file", value=ANSWER, response_only=True)


class ComponentQuery(PagedQuery):
    """Which components to list."""

    kind = ListedField(choices=Kind.choices, required=False)
    removed = serializers.BooleanField(
        required=False, help_text="true: only what has a removal date; false: only what has none"
    )


class Components(ScopedView, GenericAPIView[Component]):
    """What is there."""

    rights: ClassVar = {"GET": Right.READ, "POST": Right.REGISTER}
    query_shape: ClassVar = ComponentQuery

    @extend_schema(
        operation_id="list_components",
        tags=["components"],
        summary="Components of a facility, newest first",
        parameters=[ComponentQuery],
        responses={
            200: shapes.one_of("Component", shapes.ANSWER_OF_KIND, many=True),
            **problem_responses(404, 422),
        },
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """One page of components, each with the fields of its kind."""
        facility = self.facility_or_404(facility_id)
        asked = self.asked
        rows = Component.objects.filter(facility=facility)
        if "kind" in asked:
            rows = rows.filter(kind=asked["kind"])
        if "removed" in asked:
            rows = rows.filter(removed_on__isnull=not asked["removed"])
        page = self.paginate_queryset(rows) or []
        return self.get_paginated_response(shapes.answers(_typed(page)))

    @extend_schema(
        operation_id="add_component",
        tags=["components"],
        summary="Add a component",
        description="Send your own `tag`, or an Idempotency-Key with which a repeat is recognised.",
        parameters=[KEY_IF_UNNAMED],
        request=shapes.one_of("ComponentStatement", shapes.STATEMENT_OF_KIND),
        responses={
            201: shapes.one_of("Component", shapes.ANSWER_OF_KIND),
            **body_problems(403, 404, 409, 428),
        },
        examples=[OpenApiExample("a spill bucket", value=BODY, request_only=True), ANSWER_EXAMPLE],
    )
    def post(self, request: Request, facility_id: int) -> Response:
        """The new component."""
        facility = self.facility_or_404(facility_id)
        body = shapes.statement_for(request.data)
        body.is_valid(raise_exception=True)
        stated = dict(body.validated_data)
        named = "tag" in stated

        def work() -> Mapping[str, Any]:
            component = add_component(
                facility=facility,
                kind=stated.pop("kind"),
                tag=stated.pop("tag", None),
                parent=stated.pop("parent", None),
                replaces=stated.pop("replaces", None),
                fields=stated,
            )
            return shapes.answer(component)

        return state_once(
            request, organisation=self.organisation_at(facility), now=self.now, work=work, named=named
        )


class ComponentDetail(ScopedView):
    """One component."""

    rights: ClassVar = {"GET": Right.READ, "PATCH": Right.REGISTER}

    @extend_schema(
        operation_id="get_component",
        tags=["components"],
        summary="One component with every stated fact",
        responses={200: shapes.one_of("Component", shapes.ANSWER_OF_KIND), **problem_responses(404)},
        examples=[ANSWER_EXAMPLE],
    )
    def get(self, request: Request, facility_id: int, tag: str) -> Response:
        """The component with its ETag."""
        component = component_or_404(self.facility_or_404(facility_id), tag)
        return tagged(Response(shapes.answer(component)), component.version)

    @extend_schema(
        operation_id="correct_component",
        tags=["components"],
        summary="Put right what was stated wrongly about a component",
        description="Send If-Match with the ETag of your last read. What began on some day is a change, not this.",
        request=shapes.one_of("ComponentCorrection", shapes.CORRECTION_OF_KIND),
        responses={
            200: shapes.one_of("Component", shapes.ANSWER_OF_KIND),
            **body_problems(403, 404, 412, 428),
        },
        examples=[
            OpenApiExample(
                "seen on site", value={"kind": "spill_bucket", "drain_valve": True}, request_only=True
            ),
            ANSWER_EXAMPLE,
        ],
    )
    def patch(self, request: Request, facility_id: int, tag: str) -> Response:
        """The component as corrected, with its new ETag."""
        component = component_or_404(self.facility_or_404(facility_id), tag)
        check_match(request, component.version)
        body = shapes.CORRECTION_OF_KIND[component.kind](data=request.data, partial=True)
        body.is_valid(raise_exception=True)
        stated = {name: value for name, value in body.validated_data.items() if name != "kind"}
        links = {name: stated.pop(name) for name in shapes.LINKS if name in stated}
        corrected = correct_component(component=component, fields=stated, links=links)
        return tagged(Response(shapes.answer(corrected)), corrected.version)


def component_or_404(facility: Facility, tag: str) -> Component:
    """The component with this tag, as a row of its own kind's table."""
    row = Component.objects.filter(facility=facility, tag=tag).first()
    if row is None:
        raise Http404
    return _typed([row])[0]


def _typed(rows: Iterable[Component]) -> list[Component]:
    """The same rows, each read from its own kind's table: one query a kind, in the given order."""
    wanted = list(rows)
    found: dict[int, Component] = {}
    for kind in {row.kind for row in wanted}:
        own = MODEL_OF_KIND[kind]._default_manager.select_related("parent", "replaces")
        found |= own.in_bulk([row.pk for row in wanted if row.kind == kind])
    return [found[row.pk] for row in wanted]

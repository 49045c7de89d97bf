"""The walkthrough checklist of one site: each question at each component that is there."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, ClassVar, get_args

from drf_spectacular.utils import OpenApiExample, extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.activities.catalogue import standing_caution
from equipment.activities.checklist import Frequency, Item, checklist_for
from equipment.activities.definitions import SUBJECTS
from equipment.api.query_strings import StrictQuery
from equipment.api.scalars import ListedField
from equipment.api.schema import problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.models import Component
from equipment.tenancy import Right

OPERATORS_OWN: Frequency = "operator's own"


class ChecklistQuery(StrictQuery):
    """Which walkthrough."""

    frequency = ListedField(
        choices=get_args(Frequency),
        required=False,
        help_text="the duties of this frequency, and the operator's own items with them; left out: everything",
    )


class ChecklistItem(StrictSerializer):
    """One question at one component; `component` is null where it is about the site as a whole."""

    item = serializers.CharField(source="slug", read_only=True)
    component = serializers.CharField(read_only=True, allow_null=True, help_text="tag")
    label = serializers.CharField(read_only=True, allow_null=True)  # type: ignore[assignment]
    kind = serializers.CharField(read_only=True)
    question = serializers.CharField(read_only=True)
    acceptable = serializers.CharField(read_only=True, help_text="what is in order")
    area = serializers.CharField(read_only=True, help_text="of a walkthrough record's `areas`")
    frequency = serializers.ChoiceField(choices=get_args(Frequency), read_only=True)
    caution = serializers.CharField(read_only=True)
    source = serializers.CharField(read_only=True, help_text="regulation, or common practice")  # type: ignore[assignment]


CHECKLIST = inline_serializer(
    "Checklist",
    {
        "standing_caution": serializers.CharField(help_text="stands under every field task"),
        "results": ChecklistItem(many=True),
    },
)
# Wording of the example is ours; the duty is 40 CFR 280.36(a)(1)(i)(A).
EXAMPLE = {
    "standing_caution": "Follow local codes and your licence.",
    "results": [
        {
            "item": "spill-bucket-damage",
            "component": "SB1",
            "label": "regular fill",
            "kind": "spill_bucket",
            "question": "Is the bucket free of cracks?",
            "acceptable": "no crack, hole or bulge",
            "area": "spill",
            "frequency": "30 days",
            "caution": "Keep ignition sources away.",
            "source": "40 CFR 280.36(a)(1)(i)(A)",
        }
    ],
}


class Checklist(ScopedView):
    """What to look at on a walk around this site."""

    rights: ClassVar = {"GET": Right.READ}
    query_shape: ClassVar = ChecklistQuery

    @extend_schema(
        operation_id="get_checklist",
        tags=["activities"],
        summary="The walkthrough checklist of a facility",
        parameters=[ChecklistQuery],
        responses={200: CHECKLIST, **problem_responses(404, 422)},
        examples=[OpenApiExample("thirty days", value=EXAMPLE, response_only=True)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """Questions in the order of the checklist, components of one kind in the order of their registration."""
        facility = self.facility_or_404(facility_id)
        frequency = self.asked.get("frequency")
        present = Component.objects.filter(facility=facility, removed_on=None).order_by("pk")
        rows = list(_rows(list(present), frequency))
        return Response(
            {"standing_caution": standing_caution().text, "results": ChecklistItem(rows, many=True).data}
        )


def _rows(present: list[Component], frequency: str | None) -> Iterator[dict[str, Any]]:
    by_kind: dict[str, list[Component]] = defaultdict(list)
    for component in present:
        by_kind[component.kind].append(component)
    for item in checklist_for({*by_kind, "facility"} & set(SUBJECTS)):
        if frequency is None or item.frequency in (frequency, OPERATORS_OWN):
            for place in [None] if item.kind == "facility" else by_kind[item.kind]:
                yield _row(item, place)


def _row(item: Item, component: Component | None) -> dict[str, Any]:
    shown = ("slug", "kind", "question", "acceptable", "area", "frequency", "caution", "source")
    return {name: getattr(item, name) for name in shown} | {
        "component": component.tag if component else None,
        "label": component.label if component else None,
    }

"""A facility as a site document, and judgement of any site document without an account's data."""

from datetime import date, datetime
from typing import Any, ClassVar

import msgspec
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.as_of import JudgedMomentField, LookBackField, as_date
from compliance.api.examples import FINDING, SITE_DOCUMENT, example
from compliance.api.finding_shapes import FindingOut
from compliance.gather import site_documents
from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError, read_document
from compliance.rules.judging import LOOK_BACK_DAYS, judge
from compliance.rules.look_back import days_back, local_day
from equipment import activities
from equipment.api.schema import body_problems, problem_responses
from equipment.api.serializers import StrictSerializer
from equipment.api.views import ScopedView
from equipment.faults import Fault, refuse
from equipment.tenancy import Right


class FacilitySiteDocument(ScopedView):
    """Everything known about one facility, in the shape that judging reads."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_site_document",
        tags=["judging"],
        summary="The facility as a site document",
        responses={200: OpenApiTypes.OBJECT, **problem_responses(404)},
        examples=[example("A small site", SITE_DOCUMENT)],
    )
    def get(self, request: Request, facility_id: int) -> Response:
        """The document."""
        facility = self.facility_or_404(facility_id)
        return Response(site_documents([facility.pk])[facility.pk])


class JudgementIn(StrictSerializer):
    """A site document, and how to judge it."""

    document = serializers.DictField(help_text="a site document; see GET /api/v1/site-document-schema")
    on = JudgedMomentField(
        required=False, help_text="local day, to its end, or instant; every record in the document counts"
    )
    as_of = JudgedMomentField(
        required=False, help_text="the same, but records whose `recorded_at` lies after it are left out"
    )
    packs = serializers.ListField(
        child=serializers.CharField(max_length=60),
        required=False,
        min_length=1,
        max_length=50,
        help_text="rule packs, widest jurisdiction first; those of the document unless told",
    )
    look_back = LookBackField(
        required=False, help_text="such as 12m, 400d or 5y: how long ended delays are told; 5y unless told"
    )
    include_not_required = serializers.BooleanField(
        default=False, help_text="also what is not required, each with its reason"
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """One moment, not two."""
        if "on" in attrs and "as_of" in attrs:
            raise serializers.ValidationError({"as_of": "Send either on or as_of."})
        return attrs


class JudgementOut(serializers.Serializer[Any]):
    """What the rules say about the document."""

    at = serializers.DateTimeField(help_text="the judged instant")
    packs = serializers.ListField(child=serializers.CharField())
    digest = serializers.CharField(help_text="of the loaded rules; another one may judge otherwise")
    findings = FindingOut(many=True)
    changes_at = serializers.DateTimeField(allow_null=True, help_text="when a finding changes by itself")


WHAT_IF = {
    "on": "2026-02-28",
    "packs": ["us-federal"],
    "look_back": "12m",
    "document": {
        "facility": {"jurisdictions": ["us-federal"], "time_zone": "America/New_York"},
        "components": [{"id": "SB1", "kind": "spill_bucket", "brought_into_use_on": "2019-05-20"}],
    },
}
SAID = {
    "at": "2026-03-01T04:59:59.999999Z",
    "packs": ["us-federal"],
    "digest": "3f0c",
    "findings": [FINDING | {"days_late": 39}],
    "changes_at": None,
}


class Judgements(ScopedView):
    """What would apply if."""

    rights: ClassVar = {"POST": Right.READ}

    @extend_schema(
        operation_id="judge_document",
        tags=["judging"],
        summary="Judge a site document; nothing is stored",
        description="Needs no data on file: whatever is asked about stands in the document.",
        request=JudgementIn,
        responses={200: JudgementOut, **body_problems()},
        examples=[
            OpenApiExample("One bucket", request_only=True, value=WHAT_IF),
            example("An overdue test", SAID),
        ],
    )
    def post(self, request: Request) -> Response:
        """Judge it."""
        sent = JudgementIn(data=request.data)
        sent.is_valid(raise_exception=True)
        asked = sent.validated_data
        chosen = asked.get("as_of") or asked.get("on")
        moment = self.now if chosen is None else as_date(chosen)
        return Response(_judged(asked, moment, known_at=moment if "as_of" in asked else None))


def _judged(
    asked: dict[str, Any], moment: date | datetime, *, known_at: date | datetime | None
) -> dict[str, Any]:
    look_back = asked.get("look_back")
    try:
        document = read_document(asked["document"], activities=activities.slugs())
        day = local_day(document, moment)
        judgement = judge(
            document,
            installed_packs(),
            at=moment,
            known_at=known_at,
            look_back_days=LOOK_BACK_DAYS if look_back is None else days_back(look_back, day),
            include_not_required=asked["include_not_required"],
            jurisdictions=asked.get("packs"),
        )
    except DocumentError as error:
        refuse(Fault(_pointer(fault.pointer, asked), fault.detail) for fault in error.faults)
        raise
    return {
        "at": judgement.at.isoformat(),
        "packs": list(judgement.packs),
        "digest": judgement.digest,
        "findings": msgspec.to_builtins(judgement.findings),
        "changes_at": judgement.changes_at.isoformat() if judgement.changes_at else None,
    }


def _pointer(pointer: str, asked: dict[str, Any]) -> str:
    """Packs that were asked for stand beside the document, not in it."""
    stated = "/facility/jurisdictions"
    if "packs" in asked and pointer.startswith(stated):
        return f"/packs{pointer.removeprefix(stated)}"
    return f"/document{pointer}"

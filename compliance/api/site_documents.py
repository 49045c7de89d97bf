"""A facility as a site document, and judgement of any site document without an account's data."""

from datetime import datetime
from typing import Any, ClassVar

import msgspec
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.examples import SITE_DOCUMENT, example
from compliance.gather import site_documents
from compliance.rulepacks import installed_packs
from compliance.rules.document import DocumentError, read_document
from compliance.rules.judging import judge
from equipment.api.fields import MomentField
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
    """A site document and the moment to judge it for."""

    document = serializers.DictField(help_text="a site document; see GET /api/v1/site-document-schema")
    on = MomentField(required=False, help_text="local day or instant; default: now")
    include_not_required = serializers.BooleanField(default=False)


class FindingOut(serializers.Serializer[Any]):
    """One finding; see an obligation's `finding`."""

    rule = serializers.CharField()
    subject = serializers.CharField()
    standing = serializers.CharField()
    due = serializers.CharField(allow_null=True)
    sentence = serializers.CharField()
    cite = serializers.CharField()
    verified = serializers.CharField()


class JudgementOut(serializers.Serializer[Any]):
    """What the rules say about the document."""

    findings = FindingOut(many=True)
    changes_at = serializers.DateTimeField(allow_null=True, help_text="when a finding changes by itself")


class Judgements(ScopedView):
    """What would apply if."""

    rights: ClassVar = {"POST": Right.READ}

    @extend_schema(
        operation_id="judge_document",
        tags=["judging"],
        summary="Judge a site document; nothing is stored",
        request=JudgementIn,
        responses={200: JudgementOut, **body_problems()},
        examples=[
            OpenApiExample(
                "One bucket",
                request_only=True,
                value={
                    "on": "2026-02-28",
                    "document": {
                        "facility": {"jurisdictions": ["us-federal"], "time_zone": "America/New_York"},
                        "components": [
                            {"id": "SB1", "kind": "spill_bucket", "brought_into_use_on": "2019-05-20"}
                        ],
                    },
                },
            )
        ],
    )
    def post(self, request: Request) -> Response:
        """Judge it."""
        sent = JudgementIn(data=request.data)
        sent.is_valid(raise_exception=True)
        asked = sent.validated_data
        moment = asked.get("on")
        at = (moment.instant or moment.day) if moment else self.now
        return Response(_judged(asked["document"], at=at, everything=asked["include_not_required"]))


def _judged(document: dict[str, Any], *, at: Any, everything: bool) -> dict[str, Any]:
    try:
        judgement = judge(read_document(document), installed_packs(), at=at, include_not_required=everything)
    except DocumentError as error:
        refuse(Fault(f"/document{fault.pointer}", fault.detail) for fault in error.faults)
        raise
    changes_at: datetime | None = judgement.changes_at
    return {
        "findings": msgspec.to_builtins(judgement.findings),
        "changes_at": changes_at.isoformat() if changes_at else None,
    }

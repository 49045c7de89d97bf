"""The rules in force, for whoever wants to know what a citation means or how well it was verified."""

from datetime import date
from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from compliance.api.examples import RULE, example
from compliance.rulepacks import installed_packs
from compliance.rules.packset import RuleEntry
from equipment.api.schema import problem_responses
from equipment.api.views import ScopedView
from equipment.tenancy import Right


class WordingOut(serializers.Serializer[Any]):
    """One version of a rule."""

    effective = serializers.DateField(allow_null=True, help_text="null: always")
    off = serializers.BooleanField(help_text="the duty does not exist from then on")
    cite = serializers.CharField()
    verified = serializers.CharField()


class RuleOut(serializers.Serializer[Any]):
    """A rule with the history of its wordings."""

    id = serializers.CharField()
    pack = serializers.CharField()
    title = serializers.CharField()
    task = serializers.CharField(allow_null=True)
    subject = serializers.ListField(child=serializers.CharField())
    versions = WordingOut(many=True)


def _shown(entry: RuleEntry) -> dict[str, Any]:
    table = entry.table
    return {
        "id": table.id,
        "pack": entry.pack,
        "title": table.title,
        "task": table.task,
        "subject": [table.subject] if isinstance(table.subject, str) else table.subject,
        "versions": [
            {"effective": _day(one.effective), "off": one.off, "cite": one.cite, "verified": one.verified}
            for one in table.version
        ],
    }


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


class Rules(ScopedView):
    """Every rule of every loaded pack."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="list_rules",
        tags=["judging"],
        summary="Every rule of every loaded pack",
        responses={200: RuleOut(many=True), **problem_responses()},
        examples=[example("A yearly test", RULE)],
    )
    def get(self, request: Request) -> Response:
        """The rules, by pack and id."""
        entries = sorted(installed_packs().rules, key=lambda entry: (entry.pack, entry.table.id))
        return Response([_shown(entry) for entry in entries])


class OneRule(ScopedView):
    """One rule."""

    rights: ClassVar = {"GET": Right.READ}

    @extend_schema(
        operation_id="get_rule",
        tags=["judging"],
        summary="One rule with the history of its wordings",
        responses={200: RuleOut, **problem_responses(404)},
        examples=[example("A yearly test", RULE)],
    )
    def get(self, request: Request, rule_id: str) -> Response:
        """The rule."""
        try:
            return Response(_shown(installed_packs().entry(rule_id)))
        except KeyError as error:
            raise Http404 from error

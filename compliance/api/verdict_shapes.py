"""Shapes of what a record comes to by its own numbers."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from compliance.models import VerdictWord
from compliance.protocols.not_computed import why_not
from equipment.models import Record
from equipment.vocabulary import Outcome

COMPARISON = "how the measured value has to compare with the limit: <, <=, > or >="


class VerdictCheckOut(serializers.Serializer[Any]):
    """One number against one criterion; null where the number is missing."""

    of = serializers.CharField(allow_null=True, help_text="what was measured, where there are several")
    part = serializers.ChoiceField(
        ["result", "procedure"], help_text="a broken result fails, a broken procedure proves nothing"
    )
    holds = serializers.BooleanField(allow_null=True)
    criterion = serializers.CharField()
    comparison = serializers.CharField(help_text=COMPARISON)
    limit = serializers.FloatField()
    measured = serializers.FloatField(allow_null=True)
    margin = serializers.FloatField(
        allow_null=True, help_text="how far inside the limit; negative is outside"
    )
    unit = serializers.CharField(help_text="as measurements end their names; yes: 1 is yes, 0 is no")
    jurisdiction = serializers.CharField(help_text="whose criterion; any: a standard that no agency owns")
    source = serializers.CharField()  # type: ignore[assignment]
    verified = serializers.CharField()
    missing = serializers.ListField(child=serializers.CharField())


class VerdictOut(serializers.Serializer[Any]):
    """What the numbers say. Criterion, limit, measured and margin are those of the check that decided."""

    outcome = serializers.ChoiceField(VerdictWord.choices, help_text="by the numbers alone")
    counted = serializers.ChoiceField(
        Outcome.choices, allow_null=True, help_text="the outcome that rules read; null: not known"
    )
    reported = serializers.ChoiceField(Outcome.choices, allow_null=True, help_text="what the record says")
    disagreement = serializers.BooleanField(help_text="the record says the opposite of its numbers")
    criterion = serializers.CharField(allow_null=True)
    comparison = serializers.CharField(allow_null=True, help_text=COMPARISON)
    limit = serializers.FloatField(allow_null=True)
    measured = serializers.FloatField(allow_null=True)
    margin = serializers.FloatField(
        allow_null=True, help_text="how far inside the limit; negative is outside"
    )
    unit = serializers.CharField(allow_null=True)
    rounding = serializers.CharField(allow_null=True)
    # DRF takes declared fields off the class, so its own `source` stays as it was.
    source = serializers.CharField(allow_null=True)  # type: ignore[assignment]
    verified = serializers.CharField(allow_null=True)
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="measurements, by their names, that the protocol needs"
    )
    notes = serializers.ListField(child=serializers.CharField())
    checks = VerdictCheckOut(many=True)


@extend_schema_field(VerdictOut(allow_null=True))
class VerdictField(serializers.Field[Any, Any, Any, Any]):
    """The verdict of a record as last judged; null where no protocol judges it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(source="*", read_only=True, **kwargs)

    def to_representation(self, record: Record) -> dict[str, Any] | None:
        """What was kept when the facility was last judged."""
        kept: dict[str, Any] | None = getattr(record, "verdict", None)
        return kept


class NoVerdictField(serializers.CharField):
    """Why a record has no verdict; null where it has one, or where it measures nothing."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            source="*",
            read_only=True,
            allow_null=True,
            help_text="why no protocol judges it; null where one does, or where nothing is measured",
            **kwargs,
        )

    def to_representation(self, record: Record) -> str | None:  # type: ignore[override]
        """In words."""
        if getattr(record, "verdict", None) is not None:
            return None
        return why_not(record.activity, record.measurements)

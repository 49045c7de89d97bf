"""Bodies and answers about what people know of an alarm."""

from typing import Any

from equipment.api.fact_shapes import FactOut
from equipment.api.fields import InstantField
from equipment.api.scalars import TextField, WholeField, YesNoField
from equipment.api.serializers import StrictSerializer


class KnowledgeIn(StrictSerializer):
    """One or more things known of an alarm. `party` and `at` come together."""

    party = TextField(
        required=False,
        allow_null=True,
        max_length=100,
        help_text="operator (stated by the operator only), contractor, or a name",
    )
    at = InstantField(required=False, allow_null=True, help_text="when that party knew")
    discovered_at = InstantField(
        required=False,
        allow_null=True,
        help_text="when the operator learned of the alarm; stated once, by the operator only",
    )
    liquid_is_method = YesNoField(
        required=False,
        allow_null=True,
        help_text="the liquid belongs to the monitoring method: (b)(3), (c)(2)(i)",
    )
    no_liquid = YesNoField(required=False, allow_null=True, help_text="no liquid was involved: (b)(3)")


class KnowledgeOut(FactOut):
    """What was stated of an alarm; null: not part of this statement."""

    alarm = WholeField(source="alarm_id", read_only=True)
    party = TextField(read_only=True, allow_null=True)
    at = InstantField(read_only=True, allow_null=True)
    discovered_at = InstantField(read_only=True, allow_null=True)
    liquid_is_method = YesNoField(read_only=True, allow_null=True)
    no_liquid = YesNoField(read_only=True, allow_null=True)


KNOWLEDGE: dict[str, Any] = {"party": "contractor", "at": "2026-03-04T15:20:00Z"}
NOT_STATED: dict[str, Any] = {"discovered_at": None, "liquid_is_method": None, "no_liquid": None}

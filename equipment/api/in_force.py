"""What holds today, shown beside what the register's row says: a row keeps what was before the first change."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from equipment.api.serializers import StrictSerializer
from equipment.change_log import InForce

CHANGED = {
    "type": "object",
    "description": "by field: the value that a dated change says holds today instead of the one beside it",
    "additionalProperties": {
        "type": "object",
        "properties": {"value": {}, "effective_on": {"type": "string", "format": "date"}},
        "required": ["value", "effective_on"],
    },
}
STATUS = {"type": ["string", "null"], "description": "today; null: nobody said"}


class InForceShape(StrictSerializer):
    """Adds `status` and `changed` to an answer; the context carries what holds, by id of the row."""

    status = serializers.SerializerMethodField()
    changed = serializers.SerializerMethodField()

    @extend_schema_field(STATUS)
    def get_status(self, row: Any) -> str | None:
        """The status word."""
        told = self._told(row).status
        return told.status if told else None

    @extend_schema_field(CHANGED)
    def get_changed(self, row: Any) -> dict[str, Any]:
        """Values by field, each with the day from which it holds."""
        changed = self._told(row).changed
        return {
            name: {"value": one.value, "effective_on": one.effective_on.isoformat()}
            for name, one in changed.items()
        }

    def _told(self, row: Any) -> InForce:
        known: Mapping[int, InForce] = self.context.get("in_force", {})
        return known.get(row.pk, InForce())

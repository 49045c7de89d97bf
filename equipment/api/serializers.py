"""The base of every input and output shape of the API: what it does not know, it refuses by name."""

import json
from collections.abc import Mapping
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError


class StrictSerializer(serializers.Serializer[Any]):
    """A serializer that never saves, and that refuses each key it does not know at that key's own pointer.

    A silently dropped key is a fact that the sender believes to be on file. Unknown keys and faults of known ones
    come in one answer, so that a sender mends everything at once. Read-only fields count as unknown in a body.
    """

    def to_internal_value(self, data: Any) -> Any:
        """The checked values; ValidationError by key otherwise."""
        unknown = self._unknown(data) if isinstance(data, Mapping) else {}
        try:
            value = super().to_internal_value(data)
        except ValidationError as error:
            known = error.detail if isinstance(error.detail, dict) else {"non_field_errors": error.detail}
            raise ValidationError({**known, **unknown}) from error
        if unknown:
            raise ValidationError(unknown)
        return value

    def _unknown(self, data: Mapping[str, Any]) -> dict[str, Any]:
        known = sorted(name for name, field in self.fields.items() if not field.read_only)
        spoken = f"known: {', '.join(known)}" if known else "nothing is asked here"
        return {
            key: [ErrorDetail(f"No such key here; {spoken}.", code="unknown")]
            for key in data
            if key not in known
        }


def canonical(body: Any) -> bytes:
    """A decoded JSON body in one spelling: what makes two requests the same under an Idempotency-Key."""
    return json.dumps(body, sort_keys=True, ensure_ascii=False).encode()

"""The raw measurements of a record, as exact decimals.

A stick reading of 22.4 in is not a binary fraction: 22.4 - 22.275 in floating point lies under the 1/8 in that it is,
and a failed test would pass. What was typed is therefore taken digit by digit.
"""

from collections.abc import Mapping
from decimal import Decimal
from math import isfinite

from equipment.physics.digits import exact, shown

__all__ = ["Readings", "exact", "shown"]


class Readings:
    """Measurements by the catalogue's names. A value that is absent, null or of another type counts as not stated."""

    def __init__(self, values: Mapping[str, object]) -> None:
        self._values = values

    def number(self, name: str) -> Decimal | None:
        value = self._values.get(name)
        if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
            return None
        return exact(value)

    def flag(self, name: str) -> bool | None:
        value = self._values.get(name)
        return value if isinstance(value, bool) else None

    def word(self, name: str) -> str | None:
        value = self._values.get(name)
        return value if isinstance(value, str) else None

    def rows(self, name: str) -> list["Readings"]:
        value = self._values.get(name)
        if not isinstance(value, list | tuple):
            return []
        return [Readings(row) for row in value if isinstance(row, Mapping)]

    def states(self, *names: str) -> bool:
        """Whether any of these was stated."""
        return any(self._values.get(name) is not None for name in names)

"""Parameters are plain substitution before parsing.

`$name` as a whole value becomes the parameter itself; `$name` inside a text becomes its text. So an override, of a
pack or of an agency's letter, is the same rule compiled with other values.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

_NAME = re.compile(r"\$([a-z][a-z0-9_]*)")


@dataclass
class Parameters:
    """The values behind `$name`, and which of them were asked for."""

    values: Mapping[str, object]
    used: set[str] = field(default_factory=set)

    def fill(self, value: object) -> object:
        """The value with every `$name` in it replaced, at any depth. Raises ValueError for an unknown name."""
        if isinstance(value, str):
            return self._fill_text(value)
        if isinstance(value, list):
            return [self.fill(part) for part in value]
        if isinstance(value, dict):
            return {key: self.fill(part) for key, part in value.items()}
        return value

    def _fill_text(self, text: str) -> object:
        if whole := _NAME.fullmatch(text):
            return self._value(whole[1])
        return _NAME.sub(lambda match: _as_text(self._value(match[1])), text)

    def _value(self, name: str) -> object:
        if name not in self.values:
            raise ValueError(
                f"${name} is not among the params of this version; add it there or correct the name"
            )
        self.used.add(name)
        return self.values[name]


def _as_text(value: object) -> str:
    return value.isoformat() if isinstance(value, date) else str(value)

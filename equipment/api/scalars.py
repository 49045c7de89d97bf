"""Strict scalars: a text is a text, a number a number, and yes, no and unknown are three different things.

DRF's own fields are made for web forms: they read "yes" or 1 as true, "12" or true as a number, and a missing tick as
no. What people state about a tank is not guessed at here.
"""

import math
from typing import Any, NoReturn

from rest_framework import serializers

# Beyond every quantity at a marina; keeps sums and squares of stored figures finite.
MAX_NUMBER = 1e15
# The highest id that a column holds; beyond it a number names nothing.
MAX_ID = 2**63 - 1


class YesNoField(serializers.BooleanField):
    """true or false; null, where allowed, says unknown."""

    default_error_messages = {"invalid": "Send true or false without quotes; null means unknown."}

    def to_internal_value(self, data: Any) -> bool:
        """The answer; ValidationError for anything that is not a JSON boolean."""
        if not isinstance(data, bool):
            self.fail("invalid")
        return data


class NumberField(serializers.FloatField):
    """A finite JSON number; neither text nor boolean."""

    default_error_messages = {
        "invalid": "Send a number without quotes; null means unknown.",
        "not_finite": "Too large to be a quantity here.",
    }

    def to_internal_value(self, data: Any) -> float:
        """The number as a float."""
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("invalid")
        if (isinstance(data, float) and not math.isfinite(data)) or abs(data) > MAX_NUMBER:
            self.fail("not_finite")
        return float(data)


class WholeField(serializers.IntegerField):
    """A JSON number without fraction, small enough for a column; neither text nor boolean."""

    default_error_messages = {
        "invalid": "Send a whole number without quotes.",
        "out_of_range": "Too large to be stored.",
    }

    def to_internal_value(self, data: Any) -> int:
        """The number."""
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        if not -MAX_ID - 1 <= data <= MAX_ID:
            self.fail("out_of_range")
        return data


class IdField(WholeField):
    """The number of something on file."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=1, max_value=MAX_ID, **options)


class TextField(serializers.CharField):
    """A JSON text; a number is not taken for one."""

    default_error_messages = {"invalid": "Send a text in quotes."}

    def to_internal_value(self, data: Any) -> str:
        """The text, spaces at its ends cut off."""
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class ListedField(serializers.ChoiceField):
    """One of the listed words; whoever sends another is told them all."""

    default_error_messages = {"invalid_choice": "{input} is none of: {known}."}

    def fail(self, key: str, **words: Any) -> NoReturn:
        """ValidationError; of an unknown word with the known ones."""
        if "input" in words:
            words |= {"input": repr(words["input"])[:60], "known": ", ".join(map(str, self.choices))}
        super().fail(key, **words)


class WordField(ListedField):
    """One of the listed words, as a JSON text."""

    def to_internal_value(self, data: Any) -> Any:
        """The word; ValidationError listing the known ones."""
        if not isinstance(data, str) or data not in self.choices:
            self.fail("invalid_choice", input=data)
        return data

"""Checks of single field values that Django has no ready class for."""

from collections.abc import Iterable
from functools import cache
from zoneinfo import available_timezones

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.deconstruct import deconstructible


@deconstructible
class EachOf:
    """A list whose entries all come from a set of words, each at most once."""

    def __init__(self, words: Iterable[str]) -> None:
        self.words = tuple(words)

    def __call__(self, value: object) -> None:
        """ValidationError naming the words when the value is anything else."""
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise ValidationError("a list of texts is expected", code="type")
        if unknown := [one for one in value if one not in self.words]:
            raise ValidationError(f"{unknown[0]!r} is none of: {', '.join(self.words)}", code="choice")
        if len(set(value)) < len(value):
            raise ValidationError("an entry stands twice", code="repeated")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, EachOf) and self.words == other.words

    def __hash__(self) -> int:
        return hash(self.words)


def zone_exists(name: str) -> None:
    """An IANA time zone that this machine knows."""
    if name not in _zones():
        raise ValidationError(f"{name!r} is no IANA time zone; America/New_York is one", code="choice")


@cache
def _zones() -> set[str]:
    """Asked for once: finding out walks the machine's zone folder."""
    return available_timezones()


def known_jurisdictions(value: object) -> None:
    """A list of rule packs that are installed: under an unknown one the facility could not be judged at all."""
    EachOf(settings.JURISDICTIONS)(value)

"""Decimal arithmetic on what people typed, digit by digit: 22.4 in is not a binary fraction."""

from decimal import Decimal


def exact(value: float) -> Decimal:
    """The number as it was written."""
    return Decimal(repr(float(value)))


def shown(value: Decimal) -> str:
    """For a sentence: no zeros that nobody wrote, no exponent."""
    return format(value.normalize(), "f")

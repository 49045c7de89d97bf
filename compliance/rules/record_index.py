"""Which activities, and which outcomes, a condition about records can be true for.

The index of rules whose subject is a record: a site has hundreds of records, and a rule is about a handful of them.
"""

from compliance.rules.conditions import AllOf, AnyOf, Condition, Test
from compliance.rules.expressions import Literal

REPORTED = "reported_outcome"
"""Stated by the few records whose numbers say otherwise than they do."""


def values_of(condition: Condition | None, field: str) -> frozenset[str] | None:
    """The values of the record's field with which alone the condition can be true; None if it does not say.

    With any other stated value it is false, never unknown.
    """
    match condition:
        case Test(path=(name,), lookup="exact" | "in", right=Literal(constant=named)) if name == field:
            values = named if isinstance(named, tuple) else (named,)
            return frozenset(str(value) for value in values)
        case AllOf(parts=parts):
            said = [found for part in parts if (found := values_of(part, field)) is not None]
            return frozenset.intersection(*said) if said else None
        case AnyOf(parts=parts):
            return union([values_of(part, field) for part in parts])
        case _:
            return None


def outcomes_of(condition: Condition | None) -> frozenset[str] | None:
    """As `values_of` for the outcome that counts; what asks for a reported one adds none (pairs.py sees to those)."""
    match condition:
        case AnyOf(parts=parts):
            return union([outcomes_of(part) for part in parts])
        case _ if values_of(condition, REPORTED) is not None:
            return frozenset()
        case _:
            return values_of(condition, "outcome")


def union(sets: list[frozenset[str] | None]) -> frozenset[str] | None:
    """All of them together; None as soon as one says nothing."""
    known = [found for found in sets if found is not None]
    return frozenset[str]().union(*known) if known and len(known) == len(sets) else None

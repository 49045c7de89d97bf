"""Which activities a condition about records can be true for: the index of rules whose subject is a record."""

from compliance.rules.conditions import AllOf, AnyOf, Condition, Test
from compliance.rules.expressions import Literal


def activities_of(condition: Condition | None) -> frozenset[str] | None:
    """The activities outside which the condition cannot be true; None if it does not say."""
    match condition:
        case Test(path=("activity",), lookup="exact" | "in", right=Literal(constant=named)):
            slugs = named if isinstance(named, tuple) else (named,)
            return frozenset(str(slug) for slug in slugs)
        case AllOf(parts=parts):
            said = [found for part in parts if (found := activities_of(part)) is not None]
            return frozenset.intersection(*said) if said else None
        case AnyOf(parts=parts):
            return union([activities_of(part) for part in parts])
        case _:
            return None


def union(sets: list[frozenset[str] | None]) -> frozenset[str] | None:
    """All of them together; None as soon as one says nothing."""
    known = [found for found in sets if found is not None]
    return frozenset[str]().union(*known) if known and len(known) == len(sets) else None

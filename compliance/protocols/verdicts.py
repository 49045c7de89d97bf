"""What the numbers of a test say: checks against criteria, and the verdict that they add up to.

A result that breaks its criterion fails the test. Otherwise a procedure that was not kept proves nothing
(inconclusive), a number that the protocol needs and nobody stated leaves it open (incomplete), and the rest passes.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Literal

import msgspec

from compliance.protocols.criteria import Comparison, Criterion
from compliance.protocols.readings import exact

Outcome = Literal["pass", "fail", "inconclusive", "incomplete"]
Part = Literal["result", "procedure"]
# The unit of a criterion that asks for a yes, which counts as 1.
YES = "yes"


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """One number against one criterion.

    `holds` is None when the number is missing. `margin` is how far inside the limit it lies, in the criterion's unit:
    negative is outside; at zero the comparison decides. `of` names what was measured where there are several.
    """

    criterion: Criterion
    part: Part
    measured: float | None
    margin: float | None
    holds: bool | None
    missing: tuple[str, ...] = ()
    of: str | None = None


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """The computed outcome and the check that decided it, with all checks behind it.

    `missing` are measurements, by the catalogue's names, that the protocol needs. `notes` qualify the outcome.
    `reported` is what the record said; `disagreement` when it said the opposite of what the numbers say.
    """

    outcome: Outcome
    criterion: Criterion | None
    measured: float | None
    margin: float | None
    rounding: str | None
    source: str | None
    missing: tuple[str, ...]
    checks: tuple[Check, ...]
    notes: tuple[str, ...] = ()
    reported: str | None = None
    disagreement: bool = False


def compares(measured: Decimal, comparison: Comparison, limit: Decimal) -> bool:
    """The comparison itself; equality goes the way that each criterion states."""
    match comparison:
        case "<":
            return measured < limit
        case "<=":
            return measured <= limit
        case ">":
            return measured > limit
        case ">=":
            return measured >= limit


def check(
    criterion: Criterion,
    measured: Decimal | None,
    *,
    part: Part = "result",
    needs: Sequence[str] = (),
    of: str | None = None,
) -> Check:
    """Hold a number against a criterion; `needs` are the measurements that it comes from."""
    if measured is None:
        return Check(
            criterion=criterion,
            part=part,
            measured=None,
            margin=None,
            holds=None,
            missing=tuple(needs),
            of=of,
        )
    limit = exact(criterion.value)
    inside = limit - measured if criterion.comparison in ("<", "<=") else measured - limit
    return Check(
        criterion=criterion,
        part=part,
        measured=float(measured),
        margin=float(inside),
        holds=compares(measured, criterion.comparison, limit),
        of=of,
    )


def yes(
    criterion: Criterion,
    answer: bool | None,
    *,
    part: Part = "result",
    needs: Sequence[str] = (),
    of: str | None = None,
) -> Check:
    """Hold a yes or no against a criterion whose unit is "yes"."""
    return check(criterion, None if answer is None else Decimal(answer), part=part, needs=needs, of=of)


def stated(checks: Sequence[Check]) -> list[Check]:
    """Only those whose number was stated: what a procedure asks for and a form need not hold."""
    return [each for each in checks if each.holds is not None]


def either(options: Sequence[Check]) -> Check:
    """Of several ways to comply the first that is met; when none is, the first way, which fails or is still open.

    A further way that was not stated was not claimed, and one that fails leaves the first as it is.
    """
    return next((each for each in options if each.holds), options[0])


def conclude(checks: Sequence[Check], notes: Sequence[str] = ()) -> Verdict:
    """The outcome of checks whose first is the one that the test is about."""
    failed = [each for each in checks if each.part == "result" and each.holds is False]
    void = [each for each in checks if each.part == "procedure" and each.holds is False]
    open_ = [each for each in checks if each.holds is None]
    outcome: Outcome = "fail" if failed else "inconclusive" if void else "incomplete" if open_ else "pass"
    first = next(iter(failed or void or open_ or checks), None)
    return Verdict(
        outcome=outcome,
        criterion=first.criterion if first else None,
        measured=first.measured if first else None,
        margin=first.margin if first else None,
        rounding=first.criterion.rounding if first else None,
        source=first.criterion.cite if first else None,
        missing=tuple(dict.fromkeys(name for each in open_ for name in each.missing)),
        checks=tuple(checks),
        notes=tuple(notes),
    )


def disagrees(reported: str | None, outcome: Outcome) -> bool:
    """Whether the record says the opposite of its numbers: pass against fail, or fail against pass."""
    return {reported, outcome} == {"pass", "fail"}

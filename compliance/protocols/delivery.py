"""Before a delivery: is there room for the load (40 CFR 280.30(a); 23 CCR 2635)?

Room = share of capacity at which the overfill device acts, less product, less bottom water, which takes room as well;
never below zero. The federal text wants the room to be greater than the load: a load that fills it exactly is refused.
Capacity is the chart's, not the name plate's. Manifolded tanks are one volume.
"""

from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import msgspec

from compliance.protocols.criteria import DeliveryRule
from compliance.protocols.readings import exact, shown
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import compares

TENTH = Decimal("0.1")


class Holding(msgspec.Struct, frozen=True, kw_only=True):
    """One tank before the drop: gallons of capacity, product and water, and the percent at which its device acts."""

    capacity_gal: float
    product_gal: float
    limit_pct: float
    water_gal: float = 0.0


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """What one rule asks for this load, and the largest whole gallon that it would allow."""

    rule: DeliveryRule
    required_gal: float
    fits: bool
    largest_order_gal: float


class Fit(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the load fits under every rule, with the room there is and why not."""

    fits: bool
    room_gal: float
    largest_order_gal: float
    needs: tuple[Need, ...]
    reasons: tuple[str, ...]


def delivery_fit(holdings: Sequence[Holding], load_gal: float, setting: Setting) -> Fit:
    """Room and refusal for a load into one tank, or into several that are joined by a manifold."""
    left = sum((room(each) for each in holdings), Decimal(0))
    space = max(left, Decimal(0))
    needs = tuple(_need(rule, exact(load_gal), space) for rule in setting.numbers.delivery())
    return Fit(
        fits=all(need.fits for need in needs),
        room_gal=float(space),
        largest_order_gal=min((need.largest_order_gal for need in needs), default=float(space)),
        needs=needs,
        reasons=tuple(_reason(need, load_gal, space) for need in needs if not need.fits),
    )


def room(holding: Holding) -> Decimal:
    """Gallons to the limit; below zero when the tank already stands above it."""
    limit = exact(holding.limit_pct) / 100 * exact(holding.capacity_gal)
    return limit - exact(holding.product_gal) - exact(holding.water_gal)


def required_room(rule: DeliveryRule, load: Decimal) -> Decimal:
    """Gallons of room that a rule asks for a load: the lesser of its percentage and its fixed extra."""
    by_share = load * exact(rule.load_percent) / 100
    return min(by_share, load + exact(rule.extra_gal)) if rule.extra_gal else by_share


def _need(rule: DeliveryRule, load: Decimal, space: Decimal) -> Need:
    required = required_room(rule, load)
    return Need(
        rule=rule,
        required_gal=float(required),
        fits=compares(space, rule.comparison, required),
        largest_order_gal=float(_largest(rule, space)),
    )


def _largest(rule: DeliveryRule, space: Decimal) -> Decimal:
    """The most whole gallons that fit; one less than the room where it must be greater than the load."""
    most = space * 100 / exact(rule.load_percent)
    if rule.extra_gal:
        most = max(most, space - exact(rule.extra_gal))
    whole = (
        most.to_integral_value(ROUND_FLOOR)
        if rule.comparison == ">="
        else most.to_integral_value(ROUND_CEILING) - 1
    )
    return max(whole, Decimal(0))


def _reason(need: Need, load_gal: float, space: Decimal) -> str:
    word = "more than" if need.rule.comparison == ">" else "at least"
    load, required = shown(exact(load_gal)), shown(exact(need.required_gal))
    # Rounded down, so that the sentence never shows a room that would do.
    there_is = shown(space.quantize(TENTH, ROUND_FLOOR))
    most = shown(exact(need.largest_order_gal))
    return (
        f"A load of {load} gal needs {word} {required} gal of room; there are {there_is} gal. Order {most} gal at most "
        f"({need.rule.cite})."
    )

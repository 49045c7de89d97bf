"""Monthly inventory reconciliation under one or several jurisdictions' rules (40 CFR 280.43(a) and state forms).

Percentage, constant, what counts, and the months in a row that are reported are data. Over or short is held without
sign where both count; equality passes. Gross gallons: a temperature correction may explain a day and changes no figure.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Literal

from compliance.protocols.criteria import Criterion, InventoryRule
from compliance.protocols.readings import Readings, exact
from compliance.protocols.setting import Setting
from compliance.protocols.verdicts import Check, Verdict, check, conclude

Action = Literal["none", "recheck", "report"]


def judge(readings: Readings, setting: Setting) -> Verdict | None:
    """Every rule that applies must hold; None where no jurisdiction has one."""
    rules = setting.numbers.inventory()
    pumped, net = readings.number("throughput_gal"), over_short(readings)
    return conclude([month_check(rule, pumped, net) for rule in rules]) if rules else None


def over_short(readings: Readings) -> Decimal | None:
    """The month's figure as stated; else closing minus what the book says. Over is positive."""
    net = readings.number("net_gal")
    names = ("opening_gal", "delivered_gal", "throughput_gal", "closing_gal")
    known = [each for name in names if (each := readings.number(name)) is not None]
    if net is not None or len(known) < len(names):
        return net
    opening, delivered, pumped, closing = known
    return closing - (opening + delivered - pumped)


def allowance(rule: InventoryRule, pumped: Decimal) -> Decimal:
    """Gallons that a month may be off: a percentage of what was pumped plus a constant."""
    return exact(rule.percent) / 100 * pumped + exact(rule.constant_gal)


def month_check(rule: InventoryRule, pumped: Decimal | None, net: Decimal | None) -> Check:
    """One rule against one month."""
    both = rule.counts == "over and short"
    lacking = [
        *(["throughput_gal"] if pumped is None else []),
        *(["net_gal"] if net is None else []),
    ]
    criterion = Criterion(
        id="inventory-month",
        title=f"Month's over and short, {rule.percent:g} % of throughput + {rule.constant_gal:g} gal"
        if both
        else f"Month's loss, {rule.percent:g} % of throughput + {rule.constant_gal:g} gal",
        unit="gal",
        comparison="<=",
        value=float(allowance(rule, pumped or Decimal(0))),
        effective=rule.effective,
        cite=rule.cite,
        verified=rule.verified,
        jurisdiction=rule.jurisdiction,
    )
    if lacking or net is None:
        return check(criterion, None, needs=lacking, of=rule.jurisdiction)
    return check(criterion, abs(net) if both else -net, of=rule.jurisdiction)


def action_after(rule: InventoryRule, exceeded: Sequence[bool]) -> Action:
    """What the last month asks for, months oldest first: report when so many in a row were exceeded."""
    in_a_row = 0
    for month in reversed(exceeded):
        if not month:
            break
        in_a_row += 1
    if in_a_row == 0:
        return "none"
    return "report" if in_a_row >= rule.months_to_report else "recheck"

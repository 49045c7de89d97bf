"""Does a rule ask anything of an item at one moment? On, suspended, off, or unknown.

`applies` must be true; exemptions and suspensions must be *proven*: a fact nobody stated neither exempts nor suspends
(who claims an exception shows it), it is only listed as something that could change the answer.
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from compliance.rules.conditions import Blank, Verdict
from compliance.rules.items import Item
from compliance.rules.kinds import PLACES
from compliance.rules.pack import Rule, Version
from compliance.rules.view import ItemScope, View

DOES_NOT_APPLY, IS_EXEMPT = "it does not apply", "an exemption is proven"
"""The two reasons that a condition gives."""


class State(StrEnum):
    ON = "on"
    SUSPENDED = "suspended"
    OFF = "off"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Applicability:
    """The state, the wording that gives it, why it is off, and the facts that decide or could change it."""

    state: State
    version: Version | None
    reason: str = ""
    missing: tuple[Blank, ...] = ()
    could_change: tuple[Blank, ...] = ()


def applicability(rule: Rule, scope: ItemScope) -> Applicability:
    """The state of the rule for the scope's item at the scope's moment."""
    view = scope.view
    begins = [version.begins for version in rule.versions if version.begins is not None]
    view.trace.turns.update(view.calendar.start(day) for day in begins)
    version = rule.on(view.today)
    if version is None:
        return Applicability(State.OFF, None, "the rule had not taken effect")
    return wording_applies(rule, version, scope)


def wording_applies(rule: Rule, version: Version, scope: ItemScope) -> Applicability:
    """The state under one given wording."""
    if reason := _off_reason(rule, version, scope):
        return Applicability(State.OFF, version, reason)
    applies = _verdict(version, "applies", scope, default=True)
    if applies.truth is False:
        return Applicability(State.OFF, version, DOES_NOT_APPLY)
    exempt = _verdict(version, "unless", scope, default=False)
    if exempt.truth is True:
        return Applicability(State.OFF, version, IS_EXEMPT)
    if applies.truth is None:
        return Applicability(State.UNKNOWN, version, "", applies.missing, exempt.missing)
    asleep = _verdict(version, "suspended_when", scope, default=False)
    state = State.SUSPENDED if asleep.truth is True else State.ON
    return Applicability(state, version, "", (), exempt.missing + asleep.missing)


def _off_reason(rule: Rule, version: Version, scope: ItemScope) -> str:
    if version.off:
        return "the duty has been lifted"
    if reason := gone(scope.view, scope.item):
        return reason
    election = version.election
    if election is not None:
        stated = scope.view.elected(scope.item, election.group)
        chosen = stated if stated is not None else rule.elections[election.group]
        if scope.explains:
            scope.view.trace.why[f"elected_{election.group}"] = chosen
        if chosen != election.choice:
            return f"the choice is {chosen}"
    return ""


def gone(view: View, item: Item) -> str:
    """Why nothing is required of a place any more, or not yet; empty if it is there. Other items are always there."""
    if item.kind not in PLACES:
        return ""
    if item.begins is not None and view.past(item.begins) is None:
        return "it was not there yet"
    status = view.status(item) or ""
    if status.startswith("closed"):
        return f"it is {status}"
    removed = [place.fields["removed_on"] for place in item.upwards() if "removed_on" in place.fields]
    if any(isinstance(day, date) and view.past(day) is not None for day in removed):
        return "it has been removed"
    return ""


def _verdict(version: Version, key: str, scope: ItemScope, *, default: bool) -> Verdict:
    condition = getattr(version, key)
    return Verdict(default) if condition is None else condition.verdict(scope, scope)

"""Months of a ledger: reconciled under each jurisdiction's rule, and closed by a record that the rules judge."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Prefetch

from compliance.protocols.criteria import InventoryRule
from compliance.protocols.inventory import Action, action_after, allowance, month_check
from compliance.protocols.inventory_periods import month_before, month_span, spans_ending_in
from compliance.protocols.readings import exact
from compliance.protocols.setting import Setting
from compliance.services.obligations import Moves
from compliance.services.submissions import submit_visit
from equipment.faults import Conflict, Fault, Invalid
from equipment.inventory_queries import entries_of, standing_days, tanks_of_ledger
from equipment.models import Component, Facility, Organisation, Record, RecordSubject
from equipment.moments import Moment
from equipment.physics.ledger import Basis, meter_error_percent
from equipment.physics.ledger_entries import Link, chain
from equipment.physics.ledger_month import Explanation, Span, doubts, explanations, span_of
from equipment.services.facts import lock_facility
from equipment.services.records import Deed

ACTIVITY = "inventory-month"
METER_ERROR, TEST_MEASURE_GAL = "meter-error", 5.0
# Months that are looked at before the one asked for: openings, water and months in a row come out of them.
MONTHS_BACK = 12


@dataclass(frozen=True, kw_only=True)
class RuleOutcome:
    """One period under one jurisdiction's rule; figures are None while days are missing."""

    rule: InventoryRule
    first: date
    last: date
    allowance_gal: float | None
    net_gal: float | None
    exceeded: bool | None
    action: Action | None
    passed_over: tuple[date, ...]


@dataclass(frozen=True, kw_only=True)
class Month:
    """A month of a ledger. `closed` is the record that closed it and stands; `differs` names what changed since.

    `missing` are days without an entry, up to today.
    """

    tanks: tuple[str, ...]
    span: Span
    missing: tuple[date, ...]
    basis: Basis
    outcomes: tuple[RuleOutcome, ...]
    temperature: tuple[Explanation, ...]
    closed: Record | None
    measurements: Mapping[str, float | int]
    differs: tuple[str, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Closed:
    """What closing a month left: `fresh` False when the same figures were on file."""

    record: Record
    moves: Moves | None
    fresh: bool


def month_of(
    facility: Facility, component: Component, month: date, *, now: datetime, basis: Basis = "stick"
) -> Month:
    """Reconcile the month that holds this day. Nothing is stored."""
    today = now.astimezone(ZoneInfo(facility.time_zone)).date()
    first, last = month_span(month)
    links = links_between(component, first, last)
    span = span_of(links, first, last, basis)
    tanks = tuple(one.tag for one in tanks_of_ledger(component, last))
    closed = closing_records(facility, tanks, first, last).get(last)
    figures = _measurements(span) if span.complete else {}
    found = outcomes(facility, links, first)
    differs = [name for name, value in figures.items() if closed and closed.measurements.get(name) != value]
    return Month(
        tanks=tanks,
        span=span,
        missing=tuple(day for day in span.missing if day <= today),
        basis=basis,
        outcomes=tuple(found),
        temperature=tuple(explanations(links, span)),
        closed=closed,
        measurements=figures,
        differs=tuple(differs),
        remarks=(
            *_ledger_remarks(component, tanks, span, today=today),
            *_remarks(span, links, closed, differs),
            *_on_meters(facility, span, found),
        ),
    )


def links_between(component: Component, first: date, last: date) -> list[Link]:
    """The chain of a ledger, begun early enough to know what the first day opens with."""
    return chain(entries_of(standing_days(component, first - timedelta(days=31 * MONTHS_BACK), last)))


def outcomes(facility: Facility, links: Sequence[Link], month: date) -> list[RuleOutcome]:
    """Each rule in force at the month's end, over each of its periods that ends in the month."""
    _, last = month_span(month)
    found = []
    for rule in _rules(facility, last):
        spans = _spans_up_to(rule, links, month)
        for number, span in enumerate(spans):
            if span.last >= month.replace(day=1):
                found.append(_outcome(rule, span, spans[:number], facility))
    return found


@transaction.atomic
def close_month(
    *,
    facility: Facility,
    component: Component,
    month: date,
    organisation: Organisation,
    by: str,
    now: datetime,
) -> Closed:
    """Write the month's record from the ledger and judge. A month that was closed with other figures is superseded.

    Refused while days are missing; the same figures again change nothing.
    """
    facility = lock_facility(facility.pk)
    found = month_of(facility, component, month, now=now)
    _refuse_open(found)
    if found.closed is not None and not found.differs:
        return Closed(found.closed, None, fresh=False)
    if found.closed is not None and hasattr(found.closed, "superseded_by"):
        raise Conflict(
            f"Record {found.closed.pk} stands again since its correction was withdrawn; withdraw it too, then close."
        )
    deed = Deed(
        activity=ACTIVITY,
        performed=Moment(day=found.span.last),
        subjects=found.tanks,
        measurements=found.measurements,
        note=f"From the daily ledger of {component.tag}.",
        supersedes=found.closed.pk if found.closed else None,
    )
    done = submit_visit(facility=facility, submitted_by=organisation, entered_by=by, deeds=[deed], now=now)
    return Closed(done.visit.records[0], done.moves, fresh=True)


def closing_records(facility: Facility, tanks: Iterable[str], first: date, last: date) -> dict[date, Record]:
    """The standing record of each month of these tanks, whoever sent it, by its day."""
    subjects = Prefetch("record_subjects", RecordSubject.objects.select_related("component"))
    rows = Record.objects.filter(
        facility=facility, activity=ACTIVITY, performed_on__range=(first, last), withdrawn_at=None
    )
    rows = rows.select_related("superseded_by", "submitted_by").prefetch_related(subjects).order_by("pk")
    wanted, found = set(tanks), dict[date, Record]()
    for row in rows:
        later: Record | None = getattr(row, "superseded_by", None)
        named = {one.component.tag for one in row.record_subjects.all()}
        if named == wanted and (later is None or later.withdrawn_at is not None):
            found[row.performed_on] = row
    return found


def _rules(facility: Facility, on: date) -> list[InventoryRule]:
    return _setting(facility, on).numbers.inventory()


def _setting(facility: Facility, on: date) -> Setting:
    return Setting(on=on, jurisdictions=tuple(facility.jurisdictions))


def _spans_up_to(rule: InventoryRule, links: Sequence[Link], month: date) -> list[Span]:
    """The rule's periods of the months back and of this one, oldest first."""
    months = [month]
    for _ in range(MONTHS_BACK - 1):
        months.append(month_before(months[-1]))
    spans = [span for each in reversed(months) for span in spans_ending_in(rule.period, each)]
    return [span_of(links, first, last, "stick") for first, last in spans]


def _outcome(rule: InventoryRule, span: Span, earlier: Sequence[Span], facility: Facility) -> RuleOutcome:
    """The action counts complete periods in a row; an incomplete one between is passed over and named."""
    exceeded = _exceeded(rule, span)
    complete = [each for each in earlier if each.complete]
    passed_over = [each.first for each in earlier if not each.complete and each.days_stated]
    history = [bool(_exceeded(_rule_then(rule, each, facility), each)) for each in complete]
    return RuleOutcome(
        rule=rule,
        first=span.first,
        last=span.last,
        allowance_gal=float(allowance(rule, exact(span.pumped_gal))) if span.complete else None,
        net_gal=span.net_gal,
        exceeded=exceeded,
        action=None if exceeded is None else action_after(rule, [*history, exceeded]),
        passed_over=tuple(passed_over),
    )


def _rule_then(rule: InventoryRule, span: Span, facility: Facility) -> InventoryRule:
    """The jurisdiction's wording on that period's last day."""
    then = {one.jurisdiction: one for one in _rules(facility, span.last)}
    return then.get(rule.jurisdiction, rule)


def _exceeded(rule: InventoryRule, span: Span) -> bool | None:
    if span.net_gal is None:
        return None
    return month_check(rule, exact(span.pumped_gal), exact(span.net_gal)).holds is False


def _measurements(span: Span) -> dict[str, float | int]:
    """What the record of a month states, by the catalogue's names."""
    found: dict[str, float | int | None] = {
        "throughput_gal": span.pumped_gal,
        "net_gal": span.net_gal,
        "water_in": span.water_in,
        "amended_readings": span.amended,
        "days": len(span.days),
        "opening_gal": span.opening_gal,
        "delivered_gal": span.delivered_gal,
        "closing_gal": span.closing_gal,
    }
    return {name: value for name, value in found.items() if value is not None}


def _refuse_open(month: Month) -> None:
    span, faults = month.span, list[Fault]()
    if month.missing:
        days = ", ".join(map(str, month.missing))
        faults.append(
            Fault("", f"no entry on {days}; enter each day, a shut one as idle, then close", "missing")
        )
    elif span.missing:
        faults.append(Fault("", f"the month runs until {span.last}; close it when it is over", "future"))
    elif not span.days_stated:
        faults.append(Fault("", "no day of the month was read; read each tank once at least", "missing"))
    elif not span.opening_known:
        detail = f"what {span.first} opened with is not known; enter the day before, or state opening_gal"
        faults.append(Fault("", detail, "missing"))
    faults.extend(Fault("", f"{on}: {fault.detail}", fault.code) for on, fault in span.faults)
    if faults:
        raise Invalid("The month cannot be closed yet; nothing was stored. Mend the ledger first.", faults)


def _ledger_remarks(component: Component, tanks: Sequence[str], span: Span, *, today: date) -> Iterable[str]:
    if not tanks:
        yield (
            f"No tank was in the ledger of {component.tag} at the end of this month: a tank system keeps one for "
            "manifolded tanks only, any other tank keeps its own."
        )
    if span.last > today:
        yield f"The month runs until {span.last}; close it when it is over."


def _on_meters(facility: Facility, span: Span, found: Iterable[RuleOutcome]) -> Iterable[str]:
    """Of a month over its limit, what meters within their tolerance may make up (40 CFR 280.43(a)(5))."""
    numbers = _setting(facility, span.last).numbers
    if not any(one.exceeded for one in found) or not numbers.has(METER_ERROR):
        return
    inches = numbers.number(METER_ERROR).value
    percent = meter_error_percent(inches, TEST_MEASURE_GAL)
    yield (
        f"Meters within their tolerance, {inches:g} cubic inches on {TEST_MEASURE_GAL:g} gal, may make up "
        f"{span.pumped_gal * percent / 100:.0f} gal of it: have them checked. It is no reason to wait with a report."
    )


def _remarks(
    span: Span, links: Sequence[Link], closed: Record | None, differs: Sequence[str]
) -> Iterable[str]:
    if closed is not None and not span.complete:
        yield f"Record {closed.pk} closed this month, but the ledger has lost days since; mend it and close again."
    if differs and closed is not None:
        yield f"The ledger was corrected after record {closed.pk} closed it ({', '.join(differs)}); close it again."
    if span.days and span.water_in is None:
        yield "Water was not read this month; 40 CFR 280.43(a)(6) asks for it monthly, to 1/8 in."
    yield from doubts(links, span.first, span.last)
    unread = [
        str(link.entry.on)
        for link in links
        if span.first <= link.entry.on <= span.last and any(not one.before for one in link.entry.deliveries)
    ]
    if unread:
        yield (
            f"The delivery of {', '.join(unread)} counts by its receipt; 40 CFR 280.43(a)(3) asks for readings before "
            "and after."
        )

"""What stating any fact about a facility comes to: checked and kept, then ended or withdrawn, never edited."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db import transaction

from equipment.activities.suggestions import listed_word
from equipment.faults import Conflict, Fault, Refusal, no_component, refuse
from equipment.models import (
    AgencyOverride,
    Component,
    Delivery,
    Designation,
    Document,
    Facility,
    FacilityFact,
    Organisation,
    Plan,
)
from equipment.moments import FIRST_YEAR, LAST_YEAR, Moment
from equipment.services.checking import clean
from equipment.services.facts import lock_facility, touch

Fact = TypeVar("Fact", bound=FacilityFact)
Ending = TypeVar("Ending", bound=Designation | Document)


class NotYours(Refusal):
    """Somebody else's statement."""

    status = 403
    slug = "not-allowed"
    title = "You may see this, but not do that"


def refuse_others(
    organisation: Organisation, *, sender_id: int, facility: Facility, did: str, do: str = "withdraw"
) -> None:
    """Refuse whoever neither sent a statement nor operates its facility; what the sender `did`, others may not `do`."""
    if organisation.pk not in (sender_id, facility.operator_id):
        raise NotYours(f"Another organisation {did}; ask it, or the operator, to {do} it.")


@transaction.atomic
def state_fact(
    model: type[Fact],
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    fields: Mapping[str, Any],
    moments: Mapping[str, Moment | None] | None = None,
    past: Collection[str] = (),
    subjects: Sequence[str] = (),
    kinds: Collection[str] = (),
) -> Fact:
    """A new row of the model. `moments` are keyed as they are sent (`discovered_at`); those and the days named in
    `past` must not lie ahead; `subjects` are tags of components, of these `kinds` only (none given: of any).
    """
    facility = lock_facility(facility.pk)
    named = _named(facility, subjects, kinds)
    stated = dict(fields) | dict(moments or {})
    refuse(_out_of_reach(stated))
    refuse(_ahead(facility, {name: stated.get(name) for name in past}, now=now))
    fact = model(
        facility=facility,
        submitted_by=submitted_by,
        recorded_at=now,
        recorded_by=by,
        **fields,
        **_columns(facility, moments or {}),
    )
    if isinstance(fact, Designation | Document) and fact.ended_on is not None:
        fact.end_recorded_at, fact.end_recorded_by = now, by
    clean(fact)
    fact.save()
    if isinstance(fact, Delivery | Document | Plan):
        fact.subjects.set(named)
    touch(facility.pk)
    return fact


@transaction.atomic
def end_fact(*, fact: Ending, ended_on: date, by: str, now: datetime) -> Ending:
    """State the last day on which it holds. The same day again changes nothing; another one is a `Conflict`."""
    refuse(_out_of_reach({"ended_on": ended_on}))
    lock_facility(fact.facility_id)
    fact.refresh_from_db()
    if fact.withdrawn_at is not None:
        raise Conflict(f"It was withdrawn, because: {fact.withdrawn_reason}")
    if fact.ended_on == ended_on:
        return fact
    if fact.ended_on is not None:
        raise Conflict(f"Its last day is on file already: {fact.ended_on}. Withdraw it and state it again.")
    fact.ended_on, fact.end_recorded_at, fact.end_recorded_by = ended_on, now, by
    clean(fact)
    fact.save(update_fields=["ended_on", "end_recorded_at", "end_recorded_by"])
    touch(fact.facility_id)
    return fact


@transaction.atomic
def withdraw_fact(*, fact: Fact, organisation: Organisation, reason: str, by: str, now: datetime) -> Fact:
    """Take back what should never have been stated; it stays readable with the reason, and no longer counts.

    Open to whoever sent it and to the facility's operator. The same reason again changes nothing.
    """
    facility = lock_facility(fact.facility_id)
    refuse_others(organisation, sender_id=fact.submitted_by_id, facility=facility, did="stated this")
    fact.refresh_from_db()
    if fact.withdrawn_at is not None:
        if fact.withdrawn_reason == reason:
            return fact
        raise Conflict(f"It was withdrawn already, because: {fact.withdrawn_reason}")
    _nothing_rests_on(fact)
    fact.withdrawn_at, fact.withdrawn_reason, fact.withdrawn_by = now, reason, by
    fact.save(update_fields=["withdrawn_at", "withdrawn_reason", "withdrawn_by"])
    touch(fact.facility_id)
    return fact


def refuse_slip(pointer: str, text: str, words: Collection[str]) -> None:
    """Refuse a text that nearly is one of the words that rules look for: as written it would never count."""
    meant = listed_word(text, tuple(words))
    if meant is not None:
        refuse(
            [Fault(pointer, f"did you mean {meant!r}? Write it so, or use clearly other words", "near-miss")]
        )


def _nothing_rests_on(fact: FacilityFact) -> None:
    if not isinstance(fact, Document):
        return
    override = AgencyOverride.objects.filter(document=fact, withdrawn_at=None).first()
    if override is not None:
        raise Conflict(
            f"Override {override.pk} rests on this letter; withdraw the override first.", override=override.pk
        )


def _named(facility: Facility, subjects: Sequence[str], kinds: Collection[str]) -> list[Component]:
    found = {one.tag: one for one in Component.objects.filter(facility=facility, tag__in=subjects)}
    refuse(_subject_faults(found, subjects, kinds))
    return [found[tag] for tag in dict.fromkeys(subjects)]


def _subject_faults(
    found: Mapping[str, Component], subjects: Sequence[str], kinds: Collection[str]
) -> Iterator[Fault]:
    for index, tag in enumerate(subjects):
        component = found.get(tag)
        if component is None:
            yield no_component(f"/subjects/{index}", tag)
        elif kinds and component.kind not in kinds:
            detail = f"{tag} is a {component.get_kind_display()}; name one of: {', '.join(kinds)}"
            yield Fault(f"/subjects/{index}", detail, "wrong-kind")


def _out_of_reach(stated: Mapping[str, Any]) -> Iterator[Fault]:
    for name, value in stated.items():
        day = (value.instant or value.day) if isinstance(value, Moment) else value
        if isinstance(day, date) and not FIRST_YEAR <= day.year <= LAST_YEAR:
            yield Fault(
                f"/{name}",
                f"lies outside the years {FIRST_YEAR} to {LAST_YEAR}; check it",
                "out-of-calendar",
            )


def _ahead(
    facility: Facility, stated: Mapping[str, Moment | date | None], *, now: datetime
) -> Iterator[Fault]:
    zone = ZoneInfo(facility.time_zone)
    for name, value in stated.items():
        moment = Moment(day=value) if isinstance(value, date) else value
        if moment is not None and moment.is_after(now, zone):
            yield Fault(f"/{name}", "lies in the future; state it when it has happened", "future")


def _columns(facility: Facility, moments: Mapping[str, Moment | None]) -> dict[str, Any]:
    """Day and instant of each moment, by column."""
    zone = ZoneInfo(facility.time_zone)
    columns: dict[str, Any] = {}
    for name, moment in moments.items():
        stem = name.removesuffix("_at")
        columns[f"{stem}_on"] = moment.local_day(zone) if moment else None
        columns[f"{stem}_at"] = moment.instant if moment else None
    return columns

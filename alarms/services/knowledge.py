"""States what people know of an alarm besides its answer, and takes it back: its discovery, who knew, the liquid."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from alarms.dispositions import CONTRACTOR, OPERATOR
from alarms.knowledge_queries import discovery_of, first_answered, first_mailed
from alarms.models import Alarm, AlarmKnowledge
from equipment.faults import Conflict, Fault, refuse
from equipment.models import Organisation
from equipment.moments import CLOCK_SKEW
from equipment.services.facts import lock_facility
from equipment.services.stating import NotYours, refuse_slip, state_fact, withdraw_fact


@transaction.atomic
def state_knowledge(
    *,
    alarm: Alarm,
    stated: Mapping[str, Any],
    by: str,
    organisation: Organisation,
    now: datetime,
) -> AlarmKnowledge:
    """State that a party knew (`party`, `at`), when the alarm was discovered, or facts about the liquid.

    When the operator discovered it or knew, only the operator says. The discovery is stated once, until it is taken
    back; the same again is kept as a further statement. It lies neither after the first answer to the alarm nor after
    the first mail about it that reached the operator's people: the clock of 40 CFR 280.50 starts at it. A party's
    moment may be stated anew only earlier: nobody can come to know later. Raises `Invalid`, `Conflict` or `NotYours`.
    """
    facility = lock_facility(alarm.facility_id)
    alarm.refresh_from_db()
    said = {name: value for name, value in stated.items() if value is not None}
    refuse(_unsaid(said))
    if "party" in said:
        refuse_slip("/party", said["party"], (OPERATOR, CONTRACTOR))
    if organisation.pk != facility.operator_id:
        _refuse_for_the_operator(said)
    refuse(not_yet({f"/{name}": value for name, value in said.items()}, now=now))
    refuse(_before_the_alarm(alarm, said))
    refuse(_after_it_was_known(alarm, said))
    _refuse_later(alarm, said)
    fact = state_fact(
        AlarmKnowledge,
        facility=facility,
        submitted_by=organisation,
        by=by,
        now=now,
        fields={"alarm": alarm} | said,
    )
    _show_discovery(alarm)
    return fact


@transaction.atomic
def withdraw_knowledge(
    *, said: AlarmKnowledge, organisation: Organisation, reason: str, by: str, now: datetime
) -> AlarmKnowledge:
    """Take back a statement: from now on it counts no longer, and the alarm shows the discovery that then stands.

    Open to whoever stated it and to the operator; raises `NotYours`, or `Conflict` for another reason than before.
    """
    taken = withdraw_fact(fact=said, organisation=organisation, reason=reason, by=by, now=now)
    _show_discovery(said.alarm)
    return taken


def not_yet(stated: Mapping[str, object], *, now: datetime) -> Iterator[Fault]:
    """The moments that have not come; `stated` is keyed by pointer."""
    for pointer, value in stated.items():
        if isinstance(value, datetime) and value > now + CLOCK_SKEW:
            yield Fault(pointer, "lies in the future; state it when it has happened", "future")


def _show_discovery(alarm: Alarm) -> None:
    """On the alarm, and on the one that it turned out to be a part of."""
    for number in {alarm.pk, alarm.merged_into_id or alarm.pk}:
        Alarm.objects.filter(pk=number).update(discovered_at=discovery_of(number))


def _unsaid(said: Mapping[str, Any]) -> Iterator[Fault]:
    if not said:
        yield Fault(
            "", "says nothing; state a party and its moment, discovered_at, or a liquid fact", "missing"
        )
    for one, other in (("party", "at"), ("at", "party")):
        if one in said and other not in said:
            yield Fault(f"/{other}", f"is missing: {one} is stated", "missing")


def _refuse_for_the_operator(said: Mapping[str, Any]) -> None:
    faults = []
    if "discovered_at" in said:
        faults.append(
            Fault("/discovered_at", "is for the operator to state; state when your party knew", "not-allowed")
        )
    if said.get("party") == OPERATOR:
        faults.append(
            Fault("/party", "is the operator; state the moment of your own party only", "not-allowed")
        )
    if faults:
        raise NotYours("When the operator knew, only the operator says.", faults)


def _before_the_alarm(alarm: Alarm, said: Mapping[str, Any]) -> Iterator[Fault]:
    for name in ("at", "discovered_at"):
        if name in said and said[name] < alarm.raised_at:
            yield Fault(
                f"/{name}", f"lies before the alarm was raised: {alarm.raised_at.isoformat()}", "order"
            )


def _after_it_was_known(alarm: Alarm, said: Mapping[str, Any]) -> Iterator[Fault]:
    """What is on file counts, whether or not the answer still does: shelving ends, and yet somebody had seen it."""
    if "discovered_at" not in said:
        return
    known = {
        "was answered: {}; whoever answers knows": first_answered(alarm),
        "was mailed to the operator: {}; whoever is told knows": first_mailed(
            alarm, to=alarm.facility.operator_id
        ),
    }
    for how, at in known.items():
        if at is not None and said["discovered_at"] > at:
            yield Fault("/discovered_at", f"lies after it {how.format(at.isoformat())}", "order")


def _refuse_later(alarm: Alarm, said: Mapping[str, Any]) -> None:
    discovered = alarm.discovered_at
    if discovered is not None and said.get("discovered_at", discovered) != discovered:
        raise Conflict(
            f"Its discovery is on file and is stated once: {discovered.isoformat()}. Where it is wrong, withdraw that "
            "statement and state it anew.",
            [Fault("/discovered_at", "is on file with another moment", "conflict")],
        )
    if "party" not in said:
        return
    earlier = AlarmKnowledge.objects.filter(
        alarm=alarm, party=said["party"], at__lt=said["at"], withdrawn_at=None
    ).first()
    if earlier is not None:
        raise Conflict(
            f"{said['party']} knew at {earlier.at} already; nobody comes to know later.",
            [Fault("/at", "lies after a moment that is on file for this party", "conflict")],
            statement=earlier.pk,
        )

"""The alarms of a site document: each with the answers to it, what was found about it, and which party knew when."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from alarms.dispositions import CONTRACTOR, FLAGS, MOMENTS, OPERATOR, REFERENCES, WORDS, alarm_ref
from alarms.models import Alarm, AlarmKnowledge, Disposition
from alarms.queries import alarms_of, dispositions_of, heard_from, knowledge_of, stated_liquid
from equipment.models import Facility, Record
from equipment.tenancy import contractors_of
from equipment.vocabulary import Outcome

Row = dict[str, Any]


@dataclass(frozen=True)
class Alarms:
    """The alarms of one facility, and the change rows by which a later answer replaces an earlier one."""

    rows: list[Row] = field(default_factory=list)
    changes: list[Row] = field(default_factory=list)


def alarms_known(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, Alarms]:
    """The alarms of each facility as known at that instant (None: today); queries as `alarms.queries` says."""
    ids = facility_ids
    answers = dispositions_of(ids, known_at=known_at)
    knowledge = knowledge_of(ids, known_at=known_at)
    heard = heard_from(ids, known_at=known_at)
    contractors = contractors_of(ids)
    found = {pk: Alarms() for pk in ids}
    for pk, alarms in alarms_of(ids, known_at=known_at).items():
        for alarm in alarms:
            said, senders = knowledge.get(alarm.pk, []), heard.get(alarm.pk, {})
            told = [(at, CONTRACTOR if (pk, one) in contractors else OPERATOR) for one, at in senders.items()]
            parties = parties_of(said, told)
            given = [disposition_row(one, known_at) for one in answers.get(alarm.pk, [])]
            found[pk].rows.append(alarm_row(alarm, said, parties, given[:1]))
            found[pk].changes.extend(
                {"of": alarm_ref(alarm.pk), "on": later["at"], "disposition": later} for later in given[1:]
            )
    return found


def alarm_of_ref(ref: str) -> int | None:
    """The number of an alarm from its id in a document; None where that is no alarm on file."""
    word, _, number = ref.partition(":")
    return int(number) if word == "alarm" and number.isdecimal() else None


def alarm_row(
    alarm: Alarm, said: list[AlarmKnowledge], parties: Mapping[str, datetime], answers: list[Row]
) -> Row:
    """One alarm. Who knew is left out where nothing is known of it, the answer where there is none."""
    liquid: dict[str, bool] = {}
    for one in said:
        liquid |= stated_liquid(one)
    known = [{"party": party, "at": _json(at)} for party, at in parties.items()]
    row: Row = {
        "id": alarm_ref(alarm.pk),
        "component": alarm.component.tag if alarm.component else None,
        "condition": alarm.condition,
        "condition_class": alarm.condition_class,
        "raised_at": _json(alarm.raised_at),
        "discovered_at": _json(_discovery(said)),
        "cleared_at": _json(alarm.cleared_at),
        "known_by": known or None,
        "disposition": answers[0] if answers else None,
    }
    return {name: value for name, value in (row | liquid).items() if value is not None}


def parties_of(said: list[AlarmKnowledge], told: Iterable[tuple[datetime, str]]) -> dict[str, datetime]:
    """Each party with the earliest instant at which it knew, in the order of knowing.

    `told`: whose messages raised the alarm, and when the first reached us. Consoles and gateways speak for the
    operator, but where the operator's discovery is stated, that stands instead of them.
    """
    firsts: dict[str, datetime] = {}
    for at, party in sorted(_knew(said, told)):
        firsts.setdefault(party, at)
    return firsts


def _knew(said: list[AlarmKnowledge], told: Iterable[tuple[datetime, str]]) -> Iterator[tuple[datetime, str]]:
    discovered = _discovery(said)
    if discovered is not None:
        yield discovered, OPERATOR
    for at, party in told:
        if party != OPERATOR or discovered is None:
            yield at, party
    for one in said:
        if one.party is not None and one.at is not None:
            yield one.at, one.party


def _discovery(said: list[AlarmKnowledge]) -> datetime | None:
    """The earliest: two alarms that turned out to be one may have one each."""
    return min((one.discovered_at for one in said if one.discovered_at is not None), default=None)


def record_known_by(record: Record, facility: Facility, outcomes: Collection[str | None]) -> list[Row] | None:
    """Who knew of a result that may be a leak: whoever sent it, from when it was on file. None for other results.

    `outcomes`: what the record reports, and what counts of it.
    """
    if not {Outcome.FAIL, Outcome.INCONCLUSIVE} & set(outcomes):
        return None
    party = OPERATOR if record.submitted_by_id == facility.operator_id else CONTRACTOR
    return [{"party": party, "at": _json(record.recorded_at)}]


def disposition_row(answer: Disposition, known_at: datetime | None = None) -> Row:
    """One answer with its evidence. A fact that was withdrawn since proves nothing, and is kept beside, under `x_`."""
    evidence: Row = {name: getattr(answer, name) for name in (*MOMENTS, *WORDS, *FLAGS)}
    for name in REFERENCES:
        fact = getattr(answer, name)
        if fact is not None:
            gone = fact.withdrawn_at is not None and (known_at is None or fact.withdrawn_at <= known_at)
            evidence[f"x_{name}" if gone else name] = f"{fact._meta.model_name}:{fact.pk}"
    return {
        "type": answer.type,
        "at": _json(answer.at),
        "by": answer.recorded_by,
        "evidence": {name: _json(value) for name, value in evidence.items() if value is not None},
    }


def _json(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value

"""The rows of a site document about people, papers, fuel and plans, as far as they are on file.

Ids are a word and a number that no tag can spell: `person:12`, `document:3`. A moment is its instant with offset where
one was stated, else the local day. What nobody said is left out.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import date, datetime
from functools import partial
from typing import Any, TypeVar

from equipment import queries
from equipment.models import (
    AgencyFinding,
    AgencyOverride,
    Delivery,
    Designation,
    Document,
    Person,
    Plan,
    Release,
    SiteEvent,
    Spill,
)
from equipment.models.deliveries import DeliverySubject
from equipment.models.documents import DocumentSubject
from equipment.models.facility_facts import Endable
from equipment.models.plans import PlanSubject
from equipment.models.withdrawal import Withdrawable

Fact = TypeVar("Fact")
Row = dict[str, Any]


def person_ref(person_id: int) -> str:
    """A person's id in a document; what a record about the person has as its subject."""
    return f"person:{person_id}"


def document_ref(document_id: int) -> str:
    """A paper's id in a document."""
    return f"document:{document_id}"


def person_row(person: Person) -> Row:
    """A person: a label, no contact data."""
    return {"id": person_ref(person.pk), "label": person.name}


def reason_known(fact: Withdrawable, known_at: datetime | None) -> str | None:
    """Why the fact was withdrawn, as far as that was known."""
    if known_at is not None and fact.withdrawn_at is not None and fact.withdrawn_at > known_at:
        return None
    return fact.withdrawn_reason


def _end_known(fact: Endable, known_at: datetime | None) -> date | None:
    """The last day that was stated later, as far as that was known."""
    if known_at is not None and fact.end_recorded_at is not None and fact.end_recorded_at > known_at:
        return None
    return fact.ended_on


def designation_row(designation: Designation, known_at: datetime | None = None) -> Row:
    """Who holds which operator class."""
    return _stated(
        id=f"designation:{designation.pk}",
        person=person_ref(designation.person_id),
        operator_class=designation.operator_class,
        assumed_duties_on=_day(designation.assumed_duties_on),
        ended_on=_day(_end_known(designation, known_at)),
    )


def document_row(paper: Document, known_at: datetime | None = None) -> Row:
    """A paper; it is good to the day it names, or to the day on which it was ended before."""
    last_days = [day for day in (paper.expires_on, _end_known(paper, known_at)) if day is not None]
    return _stated(
        id=document_ref(paper.pk),
        type=paper.type,
        subject=_subjects(paper.named.all()),
        issued_on=_day(paper.issued_on),
        expires_on=_day(min(last_days, default=None)),
        per_occurrence_usd=paper.per_occurrence_usd,
        annual_aggregate_usd=paper.annual_aggregate_usd,
        received_on=_day(paper.received_on),
        x_number=paper.number,
        x_issuer=paper.issuer,
    )


def delivery_row(delivery: Delivery) -> Row:
    """A transfer of fuel into tanks."""
    return _stated(
        id=f"delivery:{delivery.pk}",
        subject=_subjects(delivery.named.all()),
        started_at=_moment(delivery.started_on, delivery.started_at),
        ended_at=_moment(delivery.ended_on, delivery.ended_at),
        ullage_gal=delivery.ullage_gal,
        ordered_gal=delivery.ordered_gal,
        delivered_gal=delivery.delivered_gal,
        watched_throughout=delivery.watched_throughout,
        check=None if delivery.check_record_id is None else f"record:{delivery.check_record_id}",
    )


def spill_row(spill: Spill) -> Row:
    """A spill or overfill, with who knew when."""
    known = [{"party": one.party, "at": one.at.isoformat()} for one in spill.known_by.all()]
    return _stated(
        id=f"spill:{spill.pk}",
        discovered_at=_moment(spill.discovered_on, spill.discovered_at),
        gal_to_environment=spill.gal_to_environment,
        sheen=spill.sheen,
        reached=spill.reached,
        substance=spill.substance,
        known_by=known or None,
    )


def release_row(release: Release) -> Row:
    """A confirmed release."""
    return _stated(
        id=f"release:{release.pk}",
        identified_at=_moment(release.identified_on, release.identified_at),
        confirmed_at=_moment(release.confirmed_on, release.confirmed_at),
        free_product=release.free_product,
        alarm=None if release.alarm is None else f"alarm:{release.alarm}",
    )


def finding_row(finding: AgencyFinding) -> Row:
    """What an agency determined."""
    return _stated(
        id=f"finding:{finding.pk}",
        type=finding.type,
        determined_on=_day(finding.determined_on),
        served_on=_day(finding.served_on),
        retraining_waived=finding.retraining_waived,
        text=finding.text,
    )


def event_row(event: SiteEvent) -> Row:
    """Something that happened and starts a duty."""
    return _stated(
        id=f"event:{event.pk}",
        type=event.type,
        at=_moment(event.happened_on, event.happened_at),
        notice_received_on=_day(event.notice_received_on),
    )


def plan_row(plan: Plan, known_at: datetime | None = None) -> Row:
    """What is meant to happen; a withdrawn plan stays, with the reason, since records may answer it."""
    return _stated(
        id=f"plan:{plan.pk}",
        type=plan.type,
        subject=_subjects(plan.named.all()),
        planned_on=_day(plan.planned_on),
        planned_at=None if plan.planned_at is None else plan.planned_at.isoformat(),
        to_ethanol_pct=plan.to_ethanol_pct,
        to_biodiesel_pct=plan.to_biodiesel_pct,
        corrective_action=plan.corrective_action,
        withdrawn=reason_known(plan, known_at),
    )


def override_row(override: AgencyOverride) -> Row:
    """An agency's figures for this facility, or one component of it."""
    row = _stated(
        rule=override.rule,
        subject=override.component.tag if override.component else None,
        params=override.params,
        to=_day(override.to_on),
        document=document_ref(override.document_id),
    )
    return row if override.from_on is None else row | {"from": _day(override.from_on)}


def further_facts(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, dict[str, list[Row]]]:
    """The lists of each facility's document by their names there, empty ones left out.

    `known_at` as in `equipment.queries`. A fixed number of queries for any number of facilities.
    """
    ids, known = facility_ids, known_at
    lists = {
        "people": _rows(queries.people_of(ids, known_at=known), person_row),
        "designations": _rows(
            queries.designations_of(ids, known_at=known), partial(designation_row, known_at=known)
        ),
        "documents": _rows(queries.documents_of(ids, known_at=known), partial(document_row, known_at=known)),
        "deliveries": _rows(queries.deliveries_of(ids, known_at=known), delivery_row),
        "spills": _rows(queries.spills_of(ids, known_at=known), spill_row),
        "releases": _rows(queries.releases_of(ids, known_at=known), release_row),
        "findings": _rows(queries.agency_findings_of(ids, known_at=known), finding_row),
        "events": _rows(queries.site_events_of(ids, known_at=known), event_row),
        "plans": _rows(queries.plans_of(ids, known_at=known), partial(plan_row, known_at=known)),
        "overrides": _rows(queries.agency_overrides_of(ids, known_at=known), override_row),
    }
    return {
        facility: {name: rows[facility] for name, rows in lists.items() if facility in rows}
        for facility in facility_ids
    }


def without_loose_ends(document: Row) -> Row:
    """The document with no record that answers, and no release that names, what is not in it.

    A withdrawn spill or an alarm of another facility leaves such a name behind; it is kept beside, under `x_`, since
    a reader of the format refuses a name that leads nowhere.
    """
    ids = {row.get("id") for rows in document.values() if isinstance(rows, list) for row in rows}
    ids.add(document["facility"].get("id", "facility"))
    alarms = {row.get("id") for row in document.get("alarms", [])}
    tied: Row = {
        "records": [_tied(row, "regarding", ids) for row in document.get("records", [])],
        "releases": [_tied(row, "alarm", alarms) for row in document.get("releases", [])],
    }
    return document | {name: rows for name, rows in tied.items() if name in document}


def _tied(row: Row, name: str, known: Collection[Any]) -> Row:
    if row.get(name) is None or row[name] in known:
        return row
    return {(f"x_{key}" if key == name else key): value for key, value in row.items()}


def _rows(found: Mapping[int, list[Fact]], row_of: Callable[[Fact], Row]) -> dict[int, list[Row]]:
    return {facility: [row_of(one) for one in facts] for facility, facts in found.items()}


def _subjects(named: Iterable[DeliverySubject | DocumentSubject | PlanSubject]) -> list[str] | None:
    """Tags; None for the whole facility, which the format takes for granted."""
    return [one.component.tag for one in named] or None


def _moment(day: date | None, instant: datetime | None) -> str | None:
    return instant.isoformat() if instant is not None else _day(day)


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _stated(**values: Any) -> Row:
    return {name: value for name, value in values.items() if value is not None}

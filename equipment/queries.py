"""Reads facts for others, for many facilities at once: the number of queries does not depend on how many.

`known_at` turns back what was known: facts recorded after that instant are left out, and what was withdrawn after it
still stands. None: everything known today.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import F, Prefetch, Q, QuerySet

from equipment.models import (
    KINDS,
    AgencyFinding,
    AgencyOverride,
    Component,
    Delivery,
    DeliverySubject,
    Designation,
    Document,
    DocumentSubject,
    Facility,
    FacilityFact,
    FieldChange,
    Organisation,
    Person,
    Plan,
    PlanSubject,
    Record,
    RecordSubject,
    Release,
    SiteEvent,
    Spill,
    SpillKnowledge,
    StatusChange,
)

Row = TypeVar("Row", bound=Component | FacilityFact | FieldChange | Record | StatusChange)


def facilities_by_id(facility_ids: Collection[int]) -> dict[int, Facility]:
    """The facilities themselves."""
    return Facility.objects.in_bulk(facility_ids)


def components_of(facility_ids: Collection[int]) -> dict[int, list[Component]]:
    """Every component as a row of its own kind's table, by facility, in order of registration. One query a kind."""
    rows = [
        row
        for model in KINDS
        for row in model._default_manager.filter(facility__in=facility_ids).order_by("pk")
    ]
    return _by_facility(sorted(rows, key=lambda row: row.pk))


def status_changes_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[StatusChange]]:
    """Statuses that stand, oldest first."""
    rows = StatusChange.objects.filter(_standing(facility_ids, known_at))
    return _by_facility(rows.select_related("component").order_by("effective_on", "pk"))


def field_changes_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[FieldChange]]:
    """Changes of other fields that stand, oldest first."""
    rows = FieldChange.objects.filter(_standing(facility_ids, known_at))
    return _by_facility(rows.select_related("component").order_by("effective_on", "pk"))


def records_of(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, list[Record]]:
    """Every record, withdrawn and superseded ones too (they say so), oldest first, subjects at hand."""
    subjects = Prefetch(
        "record_subjects",
        RecordSubject.objects.select_related("component").order_by("pk"),
        to_attr="named_subjects",
    )
    rows = Record.objects.filter(_recorded(facility_ids, known_at))
    return _by_facility(
        rows.select_related("submitted_by").prefetch_related(subjects).order_by("performed_on", "pk")
    )


def people_known_at(facility: Facility, organisation: Organisation) -> QuerySet[Person]:
    """Those whom this organisation may name at the facility: its own people, and whoever is designated there."""
    designated = Designation.objects.filter(facility=facility, withdrawn_at=None)
    return Person.objects.filter(Q(organisation=organisation) | Q(pk__in=designated.values("person")))


def people_of(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, list[Person]]:
    """Those whom a designation that stands or a record of the facility names, each once."""
    designated = Designation.objects.filter(_standing(facility_ids, known_at))
    trained = Record.objects.filter(_recorded(facility_ids, known_at)).exclude(person=None)
    columns = ("facility_id", "person_id")
    pairs = sorted({*designated.values_list(*columns), *trained.values_list(*columns)})
    people = Person.objects.in_bulk({person for _, person in pairs})
    sorted_out: dict[int, list[Person]] = defaultdict(list)
    for facility, person in pairs:
        sorted_out[facility].append(people[person])
    return sorted_out


def designations_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[Designation]]:
    """Designations that stand, ended ones too."""
    return _by_facility(Designation.objects.filter(_standing(facility_ids, known_at)).order_by("pk"))


def documents_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[Document]]:
    """Papers that stand, expired ones too, subjects at hand."""
    rows = Document.objects.filter(_standing(facility_ids, known_at)).prefetch_related(
        _named(DocumentSubject)
    )
    return _by_facility(rows.order_by("pk"))


def deliveries_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[Delivery]]:
    """Deliveries that stand, oldest first, subjects at hand."""
    rows = Delivery.objects.filter(_standing(facility_ids, known_at)).prefetch_related(
        _named(DeliverySubject)
    )
    return _by_facility(rows.order_by("started_on", F("started_at").asc(nulls_first=True), "pk"))


def spills_of(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, list[Spill]]:
    """Spills that stand, oldest first, with who knew when."""
    known = Prefetch("known_by", SpillKnowledge.objects.order_by("at", "pk"))
    rows = Spill.objects.filter(_standing(facility_ids, known_at)).prefetch_related(known)
    return _by_facility(rows.order_by("discovered_on", "pk"))


def releases_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[Release]]:
    """Releases that stand, oldest first."""
    return _by_facility(
        Release.objects.filter(_standing(facility_ids, known_at)).order_by("confirmed_on", "pk")
    )


def agency_findings_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[AgencyFinding]]:
    """What agencies determined, as far as it stands."""
    return _by_facility(AgencyFinding.objects.filter(_standing(facility_ids, known_at)).order_by("pk"))


def agency_overrides_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[AgencyOverride]]:
    """What agencies decided for one case, as far as it stands."""
    rows = AgencyOverride.objects.filter(_standing(facility_ids, known_at)).select_related("component")
    return _by_facility(rows.order_by("pk"))


def site_events_of(
    facility_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[SiteEvent]]:
    """Events that stand, oldest first."""
    return _by_facility(
        SiteEvent.objects.filter(_standing(facility_ids, known_at)).order_by("happened_on", "pk")
    )


def plans_of(facility_ids: Collection[int], *, known_at: datetime | None = None) -> dict[int, list[Plan]]:
    """Every plan, withdrawn ones too (they say so), subjects at hand."""
    rows = Plan.objects.filter(_recorded(facility_ids, known_at)).prefetch_related(_named(PlanSubject))
    return _by_facility(rows.order_by("planned_on", "pk"))


def _recorded(facility_ids: Collection[int], known_at: datetime | None) -> Q:
    """On file by then, withdrawn or not."""
    here = Q(facility__in=facility_ids)
    return here if known_at is None else here & Q(recorded_at__lte=known_at)


def _standing(facility_ids: Collection[int], known_at: datetime | None) -> Q:
    """On file by then, and not withdrawn by then."""
    stands = Q(withdrawn_at=None)
    if known_at is not None:
        stands |= Q(withdrawn_at__gt=known_at)
    return _recorded(facility_ids, known_at) & stands


def _named(
    link: type[DocumentSubject] | type[DeliverySubject] | type[PlanSubject],
) -> "Prefetch[Any, Any, Any]":
    """The subjects of a fact with their components, in the order of registration."""
    rows = link._default_manager.select_related("component").order_by("component__pk")
    return Prefetch("named", rows)


def _by_facility(rows: Iterable[Row]) -> dict[int, list[Row]]:
    sorted_out: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        sorted_out[row.facility_id].append(row)
    return sorted_out

"""Reads facts for others, for many facilities at once: the number of queries does not depend on how many.

`known_at` turns back what was known: facts recorded after that instant are left out, and what was withdrawn after it
still stands. None: everything known today.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, datetime
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
    TankChart,
)
from equipment.physics.charts import Chart

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


def chart_rows_of(
    component_ids: Collection[int], *, known_at: datetime | None = None
) -> dict[int, list[TankChart]]:
    """Charts that stand, by tank or compartment: one that holds from the start first, then by their days."""
    rows = TankChart.objects.filter(_stands(known_at), component__in=component_ids)
    if known_at is not None:
        rows = rows.filter(recorded_at__lte=known_at)
    found: dict[int, list[TankChart]] = defaultdict(list)
    for row in rows.order_by(F("effective_on").asc(nulls_first=True), "pk"):
        found[row.component_id].append(row)
    return found


def charts_of(
    component_ids: Collection[int], *, on: date, known_at: datetime | None = None
) -> dict[int, Chart]:
    """The chart that holds on this local day, by tank or compartment; one without a chart is left out."""
    rows = chart_rows_of(component_ids, known_at=known_at)
    held = {component: chart_on(charts, on) for component, charts in rows.items()}
    return {component: row.chart for component, row in held.items() if row is not None}


def chart_on(charts: Iterable[TankChart], day: date) -> TankChart | None:
    """Of one tank's charts as `chart_rows_of` orders them, the one that holds on this local day."""
    held = [row for row in charts if row.effective_on is None or row.effective_on <= day]
    return held[-1] if held else None


def _recorded(facility_ids: Collection[int], known_at: datetime | None) -> Q:
    """On file by then, withdrawn or not."""
    here = Q(facility__in=facility_ids)
    return here if known_at is None else here & Q(recorded_at__lte=known_at)


def _standing(facility_ids: Collection[int], known_at: datetime | None) -> Q:
    """On file by then, and not withdrawn by then."""
    return _recorded(facility_ids, known_at) & _stands(known_at)


def _stands(known_at: datetime | None) -> Q:
    """Not withdrawn by then."""
    now = Q(withdrawn_at=None)
    return now if known_at is None else now | Q(withdrawn_at__gt=known_at)


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

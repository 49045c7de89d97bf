"""The demo's people and papers: operators with their training, registrations, financial responsibility."""

from datetime import date, datetime, timedelta

from compliance.demo.building import Cast
from compliance.demo.scenario import Site
from equipment.models import Facility
from equipment.moments import Moment
from equipment.services.papers import file_document
from equipment.services.people import add_person, designate
from equipment.services.records import Deed, record_visit

MILLION = 1_000_000
OPERATORS = (("A/B", "manager", 1200), ("C", "dock lead", 420))


def file_papers(facility: Facility, site: Site, cast: Cast, *, now: datetime) -> None:
    """Registration after each tank came into use, cover and its certification; at one site the cover has run out."""
    first = min((line.installed_on for line in site.lines if line.installed_on), default=date(2009, 5, 4))
    _file(facility, cast, now, type="registration", issued_on=first + timedelta(days=12))
    today = now.date()
    ends = today - timedelta(days=24) if "paper missing" in site.slips else today + timedelta(days=190)
    amounts = {"per_occurrence_usd": MILLION, "annual_aggregate_usd": MILLION}
    _file(facility, cast, now, type="financial responsibility", issued_on=first, expires_on=ends, **amounts)
    _file(
        facility, cast, now, type="financial responsibility certification", issued_on=first, expires_on=ends
    )


def name_operators(facility: Facility, site: Site, cast: Cast, *, now: datetime) -> None:
    """A Class A/B operator and a Class C operator, each trained before taking up duties."""
    for operator_class, office, days in OPERATORS:
        begun = now.date() - timedelta(days=days)
        person = add_person(
            organisation=cast.operator, name=f"{site.code.title()} {office}", by="demo", now=now
        )
        designate(
            facility=facility,
            submitted_by=cast.operator,
            by="demo",
            now=now,
            person=person.pk,
            fields={"operator_class": operator_class, "assumed_duties_on": begun},
        )
        training = Deed(
            activity="operator-training",
            performed=Moment(day=begun - timedelta(days=9)),
            person=person.pk,
            outcome="pass",
            measurements={
                "operator_class": operator_class,
                "trainer": "Plumbob classroom",
                "form": "classroom",
            },
        )
        record_visit(
            facility=facility, submitted_by=cast.operator, entered_by="demo", deeds=[training], now=now
        )


def _file(facility: Facility, cast: Cast, now: datetime, **fields: object) -> None:
    file_document(
        facility=facility, submitted_by=cast.operator, by="demo", now=now, subjects=[], fields=fields
    )

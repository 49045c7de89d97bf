"""Which facts can be stated where, by whom, and in which shape: one row a resource, the only list of them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.db.models import Prefetch, QuerySet
from rest_framework import serializers

from equipment.api import fact_shapes as shapes
from equipment.api.attachment_shapes import NAMED, AttachmentsShown, attachment_numbers
from equipment.api.scalars import IdField, TextField, WholeField
from equipment.api.serializers import StrictSerializer
from equipment.api.stated import AnyField
from equipment.models import (
    AgencyFinding,
    AgencyOverride,
    Delivery,
    Designation,
    Document,
    DocumentAttachment,
    FacilityFact,
    Plan,
    Release,
    SiteEvent,
    Spill,
)
from equipment.services import happenings, papers, people
from equipment.tenancy import Right


@dataclass(frozen=True, kw_only=True)
class Resource:
    """One kind of fact in the API. `columns` are stated as the model has them, `apart` under names of the service's.

    `right`: what stating and withdrawing it asks for; `ends`: its last day can be stated later.
    """

    noun: str
    path: str
    about: str
    model: type[FacilityFact]
    state: Callable[..., FacilityFact]
    columns: tuple[str, ...]
    apart: Mapping[str, AnyField] = field(default_factory=dict)
    shown: Mapping[str, AnyField] = field(default_factory=dict)
    example: Mapping[str, Any]
    right: Right = Right.REGISTER
    ends: bool = False
    select: tuple[str, ...] = ()
    prefetch: "tuple[str | Prefetch[Any], ...]" = ()

    @cached_property
    def body(self) -> type[StrictSerializer]:
        """The shape of a statement."""
        return shapes.body_shape(self.model, self.columns, self.apart)

    @cached_property
    def answer(self) -> type[StrictSerializer]:
        """The shape of an answer."""
        return shapes.answer_shape(self.model, self.columns, self.shown)

    def rows(self) -> QuerySet[FacilityFact]:
        """Every row with what an answer shows, in a fixed number of queries."""
        rows = self.model._default_manager.select_related("submitted_by", *self.select)
        return rows.prefetch_related(*self.prefetch)


SUBJECTS = ("named__component",)
PAGES = DocumentAttachment.objects.select_related("attachment").order_by("pk")

DESIGNATIONS = Resource(
    noun="designation",
    path="designations",
    about="Who holds which operator class",
    model=Designation,
    state=people.designate,
    columns=("operator_class", "assumed_duties_on", "ended_on"),
    apart={"person": IdField(help_text="number of the person")},
    shown={"person": shapes.PersonNamed(read_only=True), **shapes.END_STATED},
    example={"person": 12, "operator_class": "A/B", "assumed_duties_on": "2026-03-01"},
    ends=True,
    select=("person",),
)
DOCUMENTS = Resource(
    noun="document",
    path="documents",
    about="Papers with their good days",
    model=Document,
    state=papers.file_document,
    columns=(
        "type",
        "number",
        "issuer",
        "issued_on",
        "expires_on",
        "ended_on",
        "received_on",
        "per_occurrence_usd",
        "annual_aggregate_usd",
    ),
    apart={"subjects": shapes.tags(), "attachments": attachment_numbers()},
    shown={
        "subjects": shapes.Tags(),
        "attachments": AttachmentsShown("document_attachments"),
        **shapes.END_STATED,
    },
    example={
        "subjects": [],
        "attachments": [NAMED["id"]],
        "type": "financial responsibility",
        "number": "P-20881",
        "issuer": "Harbor Mutual",
        "issued_on": "2026-01-01",
        "expires_on": "2026-12-31",
        "per_occurrence_usd": 1_000_000.0,
        "annual_aggregate_usd": 1_000_000.0,
    },
    ends=True,
    prefetch=(*SUBJECTS, Prefetch("document_attachments", PAGES)),
)
DELIVERIES = Resource(
    noun="delivery",
    path="deliveries",
    about="Fuel deliveries, past and expected",
    model=Delivery,
    state=happenings.state_delivery,
    columns=("ullage_gal", "ordered_gal", "delivered_gal", "watched_throughout"),
    apart={
        "subjects": shapes.tags("tags of the tanks or compartments filled; none: not said"),
        "started_at": shapes.moment(help_text="a coming one is expected, and has no result yet"),
        "ended_at": shapes.moment(required=False),
        "check": IdField(
            required=False,
            allow_null=True,
            default=None,
            help_text="number of the check made before it; gives ullage_gal and ordered_gal unless stated",
        ),
    },
    shown={
        "subjects": shapes.Tags(),
        "started_at": shapes.StatedMoment("started"),
        "ended_at": shapes.StatedMoment("ended"),
        "check": WholeField(source="check_record_id", read_only=True, allow_null=True),
    },
    example={
        "subjects": ["T1"],
        "started_at": "2026-02-27T14:05:00+00:00",
        "ullage_gal": 6200.0,
        "ordered_gal": 4000.0,
        "delivered_gal": 3985.0,
        "watched_throughout": True,
    },
    right=Right.RECORD,
    prefetch=SUBJECTS,
)
SPILLS = Resource(
    noun="spill",
    path="spills",
    about="Spills and overfills",
    model=Spill,
    state=happenings.state_spill,
    columns=("gal_to_environment", "sheen", "reached", "substance"),
    apart={
        "discovered_at": shapes.moment(),
        "known_by": shapes.SpillKnowledgeIn(many=True, required=False, default=list),
    },
    shown={
        "discovered_at": shapes.StatedMoment("discovered"),
        "known_by": shapes.SpillKnowledgeOut(many=True, read_only=True),
    },
    example={
        "discovered_at": "2026-02-27T14:05:00+00:00",
        "gal_to_environment": 38.0,
        "sheen": False,
        "reached": "gravel",
        "substance": "gasoline",
        "known_by": [{"party": "operator", "at": "2026-02-27T14:05:00Z"}],
    },
    right=Right.RECORD,
    prefetch=("known_by",),
)
RELEASES = Resource(
    noun="release",
    path="releases",
    about="Confirmed releases",
    model=Release,
    state=happenings.state_release,
    columns=("free_product",),
    apart={
        "identified_at": shapes.moment(required=False),
        "confirmed_at": shapes.moment(help_text="its clocks count from here"),
        "alarm": IdField(
            required=False,
            allow_null=True,
            default=None,
            help_text="number of the alarm at this facility that led to it",
        ),
    },
    shown={
        "identified_at": shapes.StatedMoment("identified"),
        "confirmed_at": shapes.StatedMoment("confirmed"),
        "alarm": WholeField(read_only=True, allow_null=True),
    },
    example={"confirmed_at": "2026-02-27T14:05:00+00:00", "free_product": False, "alarm": 31},
)
FINDINGS = Resource(
    noun="agency_finding",
    path="agency-findings",
    about="What an agency determined",
    model=AgencyFinding,
    state=papers.state_agency_finding,
    columns=("type", "determined_on", "served_on", "retraining_waived", "text"),
    example={
        "type": "non-compliance",
        "determined_on": "2026-02-20",
        "served_on": "2026-02-24",
        "text": "Sump sensors were not tested.",
    },
)
OVERRIDES = Resource(
    noun="agency_override",
    path="agency-overrides",
    about="What an agency decided in writing for one case",
    model=AgencyOverride,
    state=papers.state_agency_override,
    columns=("rule", "from_on", "to_on"),
    apart={
        "component": TextField(
            required=False, allow_null=True, default=None, max_length=30, help_text="tag; null: the facility"
        ),
        "document": IdField(help_text="number of the agency's letter"),
        "params": serializers.DictField(
            child=shapes.FigureField(),
            allow_empty=False,
            help_text="the figures it sets, as the rule names them",
        ),
    },
    shown={
        "component": TextField(source="component.tag", allow_null=True, default=None, read_only=True),
        "document": WholeField(source="document_id", read_only=True),
        "params": serializers.DictField(child=shapes.FigureField(), read_only=True),
    },
    example={
        "rule": "spill-bucket-tightness-3y",
        "component": "SB1",
        "document": 3,
        "params": {"interval": "2 years"},
        "from_on": "2026-01-01",
    },
    select=("component",),
)
SITE_EVENTS = Resource(
    noun="site_event",
    path="site-events",
    about="What happened at a site and starts a duty",
    model=SiteEvent,
    state=happenings.state_site_event,
    columns=("type", "notice_received_on"),
    apart={"happened_at": shapes.moment()},
    shown={"happened_at": shapes.StatedMoment("happened")},
    example={"type": "ownership change", "happened_at": "2026-02-01"},
)
PLANS = Resource(
    noun="plan",
    path="plans",
    about="What is meant to happen",
    model=Plan,
    state=happenings.state_plan,
    columns=("type", "to_ethanol_pct", "to_biodiesel_pct", "corrective_action"),
    apart={"subjects": shapes.tags(), "planned_at": shapes.moment(help_text="an instant where hours count")},
    shown={"subjects": shapes.Tags(), "planned_at": shapes.StatedMoment("planned")},
    example={
        "type": "permanent closure",
        "subjects": ["T1"],
        "planned_at": "2026-06-01",
        "corrective_action": False,
    },
    prefetch=SUBJECTS,
)

# Stated through the apps that can check them: agencies' decisions (compliance/api/agency_overrides.py) and releases
# (alarms/api/releases.py).
RESOURCES = (
    DESIGNATIONS,
    DOCUMENTS,
    DELIVERIES,
    SPILLS,
    FINDINGS,
    SITE_EVENTS,
    PLANS,
)

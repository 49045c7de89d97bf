"""The other rows of a site document: the facility, what happened, what was written, decided and planned.

A moment is text: a day (2026-03-08), a local instant (2026-03-08T06:30) or one with an offset. It becomes a `Moment` in
`items`, where the facility's time zone is known. Units stand in the names of the fields.
"""

from datetime import date
from typing import Annotated, Any, Literal

import msgspec

from compliance.rules.component_rows import Amount, AnyComponent, Label, Row, Status

MomentText = Annotated[
    str,
    msgspec.Meta(
        pattern=r"^\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?)?$",
        description="a local day, or an instant; an instant without offset is local time of the facility",
    ),
]
Subject = str | list[str]
"""One id or several. Plain `str`: a constrained one beside a list makes msgspec 0.22 end the process on shutdown."""


class Facility(Row, kw_only=True):
    id: Label | None = None
    name: str | None = None
    jurisdictions: list[str] | None = None
    time_zone: str | None = None
    facility_type1: str | None = None
    owner_type: str | None = None
    facility_state: str | None = None
    county_agency: str | None = None
    fire_code_edition: str | None = None
    over_water: bool | None = None
    floating: bool | None = None
    flood_prone: bool | None = None
    attended: bool | None = None
    serves_non_recreational_vessels: bool | None = None
    largest_vessel_barrels: Amount | None = None
    aboveground_oil_gal: Amount | None = None
    petroleum_marketing: bool | None = None
    previous_year_monthly_gal: Amount | None = None
    owner_tank_count: int | None = None
    elected_spill_walkthrough: Literal["every 30 days", "before delivery"] | None = None
    last_delivery_gap_days: int | None = None
    annual_refresher: bool | None = None
    status: Status | None = None
    ma_compliance_date: date | None = None
    owner_number_last_digit: Annotated[int, msgspec.Meta(ge=0, le=9)] | None = None


class TankSystem(Row, kw_only=True):
    """Tanks, piping and ancillary equipment that belong together: what the regulation calls a UST system."""

    id: Label
    label: str | None = None
    brought_into_use_on: date | None = None
    installed_on: date | None = None
    meets_new_or_upgraded_standard: bool | None = None
    status: Status | None = None


class Change(Row, kw_only=True):
    """From `on`, the `fields` hold for the item `of`. In JSON the fields stand beside `of` and `on`."""

    of: Label
    on: MomentText
    fields: dict[str, Any] = {}


class PerformedBy(Row, kw_only=True):
    organisation: str | None = None
    person: str | None = None
    certificate: str | None = None


class Known(Row, kw_only=True):
    """Who knew, and when."""

    party: str
    at: MomentText


class Record(Row, kw_only=True):
    """A thing done. `performed_at` decides clocks; `recorded_at` decides what was known.

    `outcome` is the one that counts; `reported_outcome` what the record says, where its numbers say otherwise.
    `missing_measurements`: those without which the outcome cannot be known.
    """

    id: Label | None = None
    activity: Label
    subject: Subject | None = None
    performed_at: MomentText
    recorded_at: MomentText | None = None
    outcome: Literal["pass", "fail", "inconclusive"] | None = None
    reported_outcome: Literal["pass", "fail", "inconclusive"] | None = None
    missing_measurements: list[Label] | None = None
    measurements: dict[str, Any] | None = None
    performed_by: PerformedBy | None = None
    regarding: Label | None = None
    known_by: list[Known] | None = None
    supersedes: Label | None = None
    withdrawn: str | None = None
    external_id: str | None = None


class Delivery(Row, kw_only=True):
    id: Label | None = None
    subject: Subject | None = None
    started_at: MomentText
    ended_at: MomentText | None = None
    ullage_gal: Amount | None = None
    ordered_gal: Amount | None = None
    delivered_gal: Amount | None = None
    watched_throughout: bool | None = None
    check: Label | None = None


class DispositionEvidence(Row, kw_only=True):
    checked_at: MomentText | None = None
    repaired_at: MomentText | None = None
    liquid_removed_at: MomentText | None = None
    clean_result_at: MomentText | None = None
    investigated_at: MomentText | None = None
    finding: str | None = None
    cause: str | None = None
    action: str | None = None
    no_defect: bool | None = None
    delivery: Label | None = None
    record: Label | None = None
    release: Label | None = None
    second_month: Label | None = None


class Disposition(Row, kw_only=True):
    """The typed answer to an alarm. It holds from `at`: before that moment it does not exist."""

    type: Literal[
        "not releasing, fixed",
        "water removed",
        "device fault",
        "contained",
        "second month clears",
        "non-release event",
        "fault put right",
        "planned test",
        "exercise",
        "filed as suspected release",
        "no release found",
        "confirmed release",
    ]
    at: MomentText
    by: str | None = None
    evidence: DispositionEvidence | None = None


AlarmClass = Literal[
    "released product", "unusual operating condition", "monitoring result", "equipment fault", "operating"
]


class Alarm(Row, kw_only=True):
    """One episode of one condition at one component."""

    id: Label | None = None
    component: Label | None = None
    condition: Label
    condition_class: AlarmClass | None = None
    raised_at: MomentText
    discovered_at: MomentText | None = None
    cleared_at: MomentText | None = None
    occurrences: list[MomentText] | None = None
    liquid_is_method: bool | None = None
    no_liquid: bool | None = None
    known_by: list[Known] | None = None
    disposition: Disposition | None = None


class Spill(Row, kw_only=True):
    id: Label | None = None
    discovered_at: MomentText
    gal_to_environment: Amount | None = None
    sheen: bool | None = None
    reached: str | None = None
    substance: str | None = None
    known_by: list[Known] | None = None


class Release(Row, kw_only=True):
    id: Label | None = None
    identified_at: MomentText | None = None
    confirmed_at: MomentText
    free_product: bool | None = None
    alarm: Label | None = None


class Person(Row, kw_only=True):
    id: Label
    label: str | None = None


class Designation(Row, kw_only=True):
    """Who holds which operator class; `ended_on` is the last day, None while it lasts."""

    id: Label | None = None
    person: Label
    operator_class: Literal["A", "B", "A/B", "C"]
    assumed_duties_on: date | None = None
    ended_on: date | None = None


class Paper(Row, kw_only=True):
    """A document with a first and a last good day."""

    id: Label | None = None
    type: Label
    subject: Subject | None = None
    issued_on: date | None = None
    expires_on: date | None = None
    per_occurrence_usd: Amount | None = None
    annual_aggregate_usd: Amount | None = None
    received_on: date | None = None


class AgencyFinding(Row, kw_only=True):
    id: Label | None = None
    type: Literal["non-compliance", "significant violation", "order", "notice"]
    determined_on: date | None = None
    served_on: date | None = None
    retraining_waived: bool | None = None
    text: str | None = None


class Event(Row, kw_only=True):
    id: Label | None = None
    type: Literal[
        "ownership change",
        "designated operator change",
        "breakaway parted",
        "cover cancelled",
        "owner bankruptcy",
        "flood warning",
        "sign of a release noticed",
    ]
    at: MomentText
    notice_received_on: date | None = None


class Plan(Row, kw_only=True):
    id: Label | None = None
    type: Label
    subject: Subject | None = None
    planned_on: date | None = None
    planned_at: MomentText | None = None
    to_ethanol_pct: Amount | None = None
    to_biodiesel_pct: Amount | None = None
    corrective_action: bool | None = None
    withdrawn: str | None = None


class CaseOverride(Row, kw_only=True, rename={"from_": "from"}):
    """An agency's written decision for one case; `document` is the id of its letter."""

    rule: Label
    subject: Subject | None = None
    params: dict[str, Any]
    from_: date | None = None
    to: date | None = None
    document: Label


class Document(Row, kw_only=True):
    """Everything known about one facility."""

    version: Literal[1] = 1
    facility: Facility
    tank_systems: list[TankSystem] = []
    components: list[AnyComponent] = []
    changes: list[Change] = []
    records: list[Record] = []
    deliveries: list[Delivery] = []
    alarms: list[Alarm] = []
    spills: list[Spill] = []
    releases: list[Release] = []
    people: list[Person] = []
    designations: list[Designation] = []
    documents: list[Paper] = []
    findings: list[AgencyFinding] = []
    events: list[Event] = []
    plans: list[Plan] = []
    overrides: list[CaseOverride] = []

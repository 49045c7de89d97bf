"""Tables of the register and of the records; one file a question."""

from equipment.models.agency import AgencyFinding, AgencyOverride
from equipment.models.attachments import Attachment, DocumentAttachment, RecordAttachment
from equipment.models.changes import FieldChange, StatusChange
from equipment.models.charts import TankChart
from equipment.models.components import Component, TankSystem
from equipment.models.deliveries import Delivery, DeliverySubject
from equipment.models.documents import Document, DocumentSubject
from equipment.models.facilities import Facility
from equipment.models.facility_facts import FacilityFact
from equipment.models.inventory import InventoryDay, InventoryDelivery
from equipment.models.organisations import ApiKey, FacilityAccess, Organisation
from equipment.models.people import Designation, Person
from equipment.models.piping import (
    CathodicProtection,
    ContainmentSump,
    LineLeakDetector,
    PipingRun,
    Sensor,
    ShearValve,
    ShoreValve,
)
from equipment.models.plans import Plan, PlanSubject, SiteEvent
from equipment.models.records import ConflictingReport, Record, RecordSubject, Submission
from equipment.models.releases import Release, Spill, SpillKnowledge
from equipment.models.site_equipment import (
    Dispenser,
    EmergencyShutoff,
    HandheldDevice,
    Hose,
    MonitoringConsole,
    MonitoringWell,
    VacPressureDevice,
)
from equipment.models.tanks import Compartment, FillPort, OverfillDevice, SpillBucket, Tank, Vent

KINDS: tuple[type[Component], ...] = (
    TankSystem,
    Tank,
    Compartment,
    PipingRun,
    SpillBucket,
    OverfillDevice,
    ContainmentSump,
    LineLeakDetector,
    Sensor,
    MonitoringConsole,
    CathodicProtection,
    MonitoringWell,
    Vent,
    FillPort,
    Dispenser,
    ShearValve,
    ShoreValve,
    EmergencyShutoff,
    Hose,
    VacPressureDevice,
    HandheldDevice,
)
MODEL_OF_KIND: dict[str, type[Component]] = {model.KIND: model for model in KINDS}

__all__ = [
    "KINDS",
    "MODEL_OF_KIND",
    "AgencyFinding",
    "AgencyOverride",
    "ApiKey",
    "Attachment",
    "CathodicProtection",
    "Compartment",
    "Component",
    "ConflictingReport",
    "ContainmentSump",
    "Delivery",
    "DeliverySubject",
    "Designation",
    "Dispenser",
    "Document",
    "DocumentAttachment",
    "DocumentSubject",
    "EmergencyShutoff",
    "Facility",
    "FacilityAccess",
    "FacilityFact",
    "FieldChange",
    "FillPort",
    "HandheldDevice",
    "Hose",
    "InventoryDay",
    "InventoryDelivery",
    "LineLeakDetector",
    "MonitoringConsole",
    "MonitoringWell",
    "Organisation",
    "OverfillDevice",
    "Person",
    "PipingRun",
    "Plan",
    "PlanSubject",
    "Record",
    "RecordAttachment",
    "RecordSubject",
    "Release",
    "Sensor",
    "ShearValve",
    "ShoreValve",
    "SiteEvent",
    "Spill",
    "SpillBucket",
    "SpillKnowledge",
    "StatusChange",
    "Submission",
    "Tank",
    "TankChart",
    "TankSystem",
    "VacPressureDevice",
    "Vent",
]

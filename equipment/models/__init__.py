"""Tables of the register and of the records; one file a question."""

from equipment.models.changes import FieldChange, StatusChange
from equipment.models.components import Component, TankSystem
from equipment.models.facilities import Facility
from equipment.models.organisations import ApiKey, FacilityAccess, Membership, Organisation, User
from equipment.models.piping import (
    CathodicProtection,
    ContainmentSump,
    LineLeakDetector,
    PipingRun,
    Sensor,
    ShearValve,
    ShoreValve,
)
from equipment.models.records import ConflictingReport, Record, RecordSubject, Submission
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
    "ApiKey",
    "CathodicProtection",
    "Compartment",
    "Component",
    "ConflictingReport",
    "ContainmentSump",
    "Dispenser",
    "EmergencyShutoff",
    "Facility",
    "FacilityAccess",
    "FieldChange",
    "FillPort",
    "HandheldDevice",
    "Hose",
    "LineLeakDetector",
    "Membership",
    "MonitoringConsole",
    "MonitoringWell",
    "Organisation",
    "OverfillDevice",
    "PipingRun",
    "Record",
    "RecordSubject",
    "Sensor",
    "ShearValve",
    "ShoreValve",
    "SpillBucket",
    "StatusChange",
    "Submission",
    "Tank",
    "TankSystem",
    "User",
    "VacPressureDevice",
    "Vent",
]

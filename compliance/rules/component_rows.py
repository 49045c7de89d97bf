"""Components of a site document, one shape a kind. Field names and values follow the national data elements of US tank
registers where one exists; a field that nobody stated is None, and None is unknown, never "no"."""

from datetime import date
from typing import Annotated, Literal

import msgspec

Label = Annotated[str, msgspec.Meta(pattern=r"\S", max_length=200)]
"""An id or the name of one: unique in the document."""

Amount = Annotated[float, msgspec.Meta(ge=0)]
"""A quantity that cannot be negative; its unit is in the name of the field."""

Status = Literal[
    "currently in use",
    "temporarily out of service",
    "closed removed from ground",
    "closed in place",
    "closed general",
    "abandoned",
    "other",
    "unknown",
]
TankDetection = Literal[
    "interstitial monitoring",
    "automatic tank gauging",
    "manual tank gauging",
    "statistical inventory reconciliation",
    "tank tightness testing",
    "inventory control",
    "groundwater monitoring",
    "vapor monitoring",
    "other",
]
PipingDetection = Literal[
    "line tightness testing annual",
    "line tightness testing 3 yr",
    "groundwater monitoring",
    "vapor monitoring",
    "interstitial monitoring",
    "statistical inventory reconciliation",
    "other",
]
Wall = Literal["single", "double", "unknown"]


class Row(msgspec.Struct, forbid_unknown_fields=True, kw_only=True, omit_defaults=True):
    """A row in which every key is known."""


class Component(Row, kw_only=True, tag_field="kind"):
    """What every component has. `parent`: id of a system or component; None is the facility."""

    id: Label
    parent: Label | None = None
    label: str | None = None
    installed_on: date | None = None
    brought_into_use_on: date | None = None
    removed_on: date | None = None
    replaces: Label | None = None
    status: Status | None = None
    note: str | None = None


class Tank(Component, kw_only=True, tag="tank"):
    """A tank; without compartments it carries the fields of one. Gallons, inches, percent as in the names."""

    release_detection: list[TankDetection] | None = None
    tank_secondary_containment: (
        Literal[
            "single wall",
            "double wall",
            "triple wall",
            "jacketed",
            "excavation liner",
            "vault",
            "tank-within-a-tank retrofit",
            "other",
            "unknown",
        ]
        | None
    ) = None
    tank_material_description: str | None = None
    interstice: Literal["none", "dry", "vacuum", "pressure", "liquid-filled"] | None = None
    compartment_capacity_gallons: Amount | None = None
    diameter_in: Amount | None = None
    substance: str | None = None
    ethanol_pct: Amount | None = None
    biodiesel_pct: Amount | None = None
    hazardous_substance: bool | None = None
    emergency_generator: bool | None = None
    field_constructed: bool | None = None
    airport_hydrant_system: bool | None = None
    federally_regulated: bool | None = None
    multiple_tanks: bool | None = None
    compartmentalized_ust: bool | None = None
    cp_type: Literal["none", "galvanic", "impressed current", "not required"] | None = None
    lined_on: date | None = None
    fill_max_gal_per_transfer: Amount | None = None
    part_monitored_monthly: bool | None = None
    both_walls_monitored: bool | None = None
    secondary_containment_test_required: bool | None = None


class Compartment(Component, kw_only=True, tag="compartment"):
    release_detection: list[TankDetection] | None = None
    compartment_capacity_gallons: Amount | None = None
    substance: str | None = None
    fill_max_gal_per_transfer: Amount | None = None


class PipingRun(Component, kw_only=True, tag="piping_run"):
    """One run of piping. The five facts of 40 CFR 280.41(b)(1)(ii)(A)-(E) make suction piping safe together."""

    piping_style: (
        Literal[
            "suction", "pressure", "hydrant", "non-operational", "gravity", "other", "unknown", "no piping"
        ]
        | None
    ) = None
    piping_wall_type: Literal["single walled", "double walled", "other"] | None = None
    piping_material: list[str] | None = None
    release_detection: list[PipingDetection] | None = None
    elected_piping_release_detection: Literal["line tightness", "monthly monitoring"] | None = None
    piping_line_leak_detector: bool | None = None
    piping_automated_interstitial_monitoring: bool | None = None
    replaced_on: date | None = None
    below_atmospheric: bool | None = None
    slopes_to_tank: bool | None = None
    single_check_valve: bool | None = None
    check_valve_under_pump: bool | None = None
    features_verifiable: bool | None = None
    below_ground: bool | None = None
    emergency_generator: bool | None = None
    part_monitored_monthly: bool | None = None
    both_walls_monitored: bool | None = None
    secondary_containment_test_required: bool | None = None


class SpillBucket(Component, kw_only=True, tag="spill_bucket"):
    spill_bucket_wall_type: Wall | None = None
    both_walls_monitored: bool | None = None
    fill_max_gal_per_transfer: Amount | None = None
    capacity_gal: Amount | None = None


class OverfillDevice(Component, kw_only=True, tag="overfill_device"):
    overfill_type: (
        Literal["automatic shutoff", "high-level alarm", "vent flow restrictor", "other", "unknown"] | None
    ) = None
    set_level_pct: Amount | None = None
    fill_max_gal_per_transfer: Amount | None = None


class ContainmentSump(Component, kw_only=True, tag="containment_sump"):
    place: Literal["tank top", "dispenser", "transition", "intermediate"] | None = None
    wall: Wall | None = None
    used_for_interstitial_monitoring: bool | None = None
    both_walls_monitored: bool | None = None
    liquid_present: bool | None = None
    secondary_containment_test_required: bool | None = None


class LineLeakDetector(Component, kw_only=True, tag="line_leak_detector"):
    detector_type: Literal["mechanical", "electronic"] | None = None


class Sensor(Component, kw_only=True, tag="sensor"):
    sensor_type: str | None = None
    used_for_release_detection: bool | None = None


class CathodicProtection(Component, kw_only=True, tag="cathodic_protection"):
    cp_type: Literal["galvanic", "impressed current", "unknown"] | None = None


class Dispenser(Component, kw_only=True, tag="dispenser"):
    place: Literal["land", "dock"] | None = None
    dispenser_udc: bool | None = None
    dispenser_udc_wall_type: Wall | None = None
    connection_installed_on: date | None = None


class Hose(Component, kw_only=True, tag="hose"):
    length_ft: Amount | None = None


class MonitoringConsole(Component, kw_only=True, tag="monitoring_console"):
    pass


class MonitoringWell(Component, kw_only=True, tag="monitoring_well"):
    pass


class Vent(Component, kw_only=True, tag="vent"):
    pass


class FillPort(Component, kw_only=True, tag="fill_port"):
    pass


class ShearValve(Component, kw_only=True, tag="shear_valve"):
    pass


class ShoreValve(Component, kw_only=True, tag="shore_valve"):
    pass


class EmergencyShutoff(Component, kw_only=True, tag="emergency_shutoff"):
    pass


class VacPressureDevice(Component, kw_only=True, tag="vac_pressure_device"):
    pass


class HandheldRdDevice(Component, kw_only=True, tag="handheld_rd_device"):
    pass


AnyComponent = (
    Tank
    | Compartment
    | PipingRun
    | SpillBucket
    | OverfillDevice
    | ContainmentSump
    | LineLeakDetector
    | Sensor
    | CathodicProtection
    | Dispenser
    | Hose
    | MonitoringConsole
    | MonitoringWell
    | Vent
    | FillPort
    | ShearValve
    | ShoreValve
    | EmergencyShutoff
    | VacPressureDevice
    | HandheldRdDevice
)

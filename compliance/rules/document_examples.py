"""One worked example for each kind of component: a whole site document, invented, as small as it can teach something.

`x_shows` is the writer's own remark, as every key that begins with x_ is.
"""

from typing import Any, NamedTuple


class Worked(NamedTuple):
    """A component, what was done to it (activity, outcome, measurements), and what the example shows."""

    id: str
    kind: str
    fields: dict[str, Any]
    shows: str
    activity: str | None = None
    measurements: dict[str, Any] | None = None
    outcome: str | None = "pass"


DONE_ON = "2026-02-20"
SYSTEM = {"id": "S1", "label": "gasoline", "installed_on": "2009-04-06", "brought_into_use_on": "2009-05-01"}
TANK: dict[str, Any] = {
    "id": "T1",
    "kind": "tank",
    "parent": "S1",
    "installed_on": "2009-04-06",
    "brought_into_use_on": "2009-05-01",
    "tank_secondary_containment": "double wall",
    "compartment_capacity_gallons": 10000.0,
    "substance": "gasoline",
    "ethanol_pct": 10.0,
    "release_detection": ["automatic tank gauging"],
}
LINE: dict[str, Any] = {
    "id": "P1",
    "kind": "piping_run",
    "parent": "T1",
    "installed_on": "2009-04-06",
    "brought_into_use_on": "2009-05-01",
    "piping_style": "pressure",
    "piping_wall_type": "double walled",
}
PLACES: dict[str, dict[str, Any]] = {"T1": TANK, "P1": LINE}
EXAMPLES = (
    Worked(
        "T1",
        "tank",
        {key: value for key, value in TANK.items() if key not in ("id", "kind", "parent")} | {"parent": "S1"},
        "A tank watched by its gauge, with a passing 30-day result.",
        "tank-monitoring-result",
        {"method": "automatic tank gauging", "leak_rate_gph": 0.02, "threshold_gph": 0.1, "fill_pct": 71},
    ),
    Worked(
        "C1",
        "compartment",
        {"parent": "T1", "substance": "diesel", "compartment_capacity_gallons": 4000.0},
        "A compartment owes its own results: the tank that it divides is its parent.",
        "tank-monitoring-result",
        {"method": "automatic tank gauging", "leak_rate_gph": 0.01, "threshold_gph": 0.1, "fill_pct": 60},
    ),
    Worked(
        "P1",
        "piping_run",
        {key: value for key, value in LINE.items() if key not in ("id", "kind")},
        "A pressurised line with its yearly test.",
        "line-tightness-test",
        {"detectable_leak_gph": 0.1, "leak_rate_gph": 0.004, "threshold_gph": 0.05, "pressure_ratio": 1.5},
    ),
    Worked(
        "SB1",
        "spill_bucket",
        {"parent": "T1", "brought_into_use_on": "2019-05-20", "spill_bucket_wall_type": "single"},
        "A single-walled bucket, tested with water.",
        "spill-bucket-test",
        {
            "method": "liquid",
            "minutes": 60,
            "level_change_in": 0.0625,
            "procedure": "PEI RP1200-19 section 6.2",
        },
    ),
    Worked(
        "OV1",
        "overfill_device",
        {"parent": "T1", "brought_into_use_on": "2009-05-01", "overfill_type": "automatic shutoff"},
        "A shutoff valve that was taken out and looked at.",
        "overfill-inspection",
        {"set_at_required_level": True, "acts_at_level": True, "set_level_pct": 94.38, "removed": True},
    ),
    Worked(
        "SU1",
        "containment_sump",
        {"parent": "T1", "place": "tank top", "wall": "single", "used_for_interstitial_monitoring": True},
        "A sump that is part of interstitial monitoring: only then is it tested every three years.",
        "sump-test",
        {"method": "liquid", "minutes": 60, "level_change_in": 0.0, "above_penetration_in": 4.5},
    ),
    Worked(
        "LLD1",
        "line_leak_detector",
        {"parent": "P1", "brought_into_use_on": "2009-05-01", "detector_type": "mechanical"},
        "A detector that found a simulated leak.",
        "line-leak-detector-test",
        {"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 15},
    ),
    Worked(
        "SN1",
        "sensor",
        {"parent": "T1", "sensor_type": "float", "used_for_release_detection": True},
        "A sensor of release detection with its yearly check.",
        "probe-sensor-test",
        {"residue": False, "float_moves": True, "alarm_ok": True, "communicates": True},
    ),
    Worked(
        "CP1",
        "cathodic_protection",
        {"parent": "T1", "brought_into_use_on": "2009-05-01", "cp_type": "impressed current"},
        "An impressed-current system: beside its three-yearly test the rectifier is read every 60 days.",
        "rectifier-check",
        {"volts": 12.4, "amps": 5.1, "hours_meter": 41230, "switched_on": True},
        None,
    ),
    Worked(
        "D1",
        "dispenser",
        {"parent": "P1", "place": "dock", "dispenser_udc": True, "dispenser_udc_wall_type": "single"},
        "A dispenser on the dock with a containment under it.",
    ),
    Worked(
        "H1",
        "hose",
        {"parent": "P1", "length_ft": 50.0},
        "A dock hose after it was changed.",
        "hose-continuity-test",
        {"ohms": 1200, "after_change": True},
    ),
    Worked(
        "MC1",
        "monitoring_console",
        {"parent": "S1", "brought_into_use_on": "2009-05-01"},
        "The console of the gauge with its yearly test.",
        "controller-test",
        {"alarm_ok": True, "configuration_ok": True, "battery_ok": True},
    ),
    Worked("MW1", "monitoring_well", {"parent": "S1", "label": "east well"}, "A well; nothing was done yet."),
    Worked("V1", "vent", {"parent": "T1"}, "A vent; what it hangs on is known, and nothing else."),
    Worked("FP1", "fill_port", {"parent": "T1", "label": "remote fill"}, "A fill port apart from its tank."),
    Worked(
        "SV1",
        "shear_valve",
        {"parent": "P1", "installed_on": "2009-04-06"},
        "A shear valve under a dispenser, tripped by hand.",
        "shear-valve-test",
        {"closes": True, "flow_stops": True, "resets": True, "anchored": True},
    ),
    Worked(
        "SHV1", "shore_valve", {"parent": "P1"}, "The hand valve where the line leaves land for the dock."
    ),
    Worked(
        "ES1",
        "emergency_shutoff",
        {"installed_on": "2009-04-06"},
        "A shutoff of the whole site: without a parent it hangs on the facility.",
        "emergency-shutoff-test",
        {"stops_all": True, "hand_reset": True, "sign_present": True, "reachable": True},
    ),
    Worked(
        "VP1",
        "vac_pressure_device",
        {"parent": "T1", "brought_into_use_on": "2009-05-01"},
        "The pump that holds the interstice under vacuum.",
        "vacuum-pressure-test",
        {"communicates": True, "alarm_ok": True},
    ),
    Worked(
        "HH1",
        "handheld_rd_device",
        {"parent": "S1", "brought_into_use_on": "2018-03-01"},
        "A handheld device that is used to look for leaks.",
        "handheld-electronic-test",
        {"calibrated": True, "battery_ok": True},
    ),
)


def worked_examples() -> list[dict[str, Any]]:
    """Whole site documents as plain JSON values, one a kind."""
    return [_document(worked) for worked in EXAMPLES]


def _document(worked: Worked) -> dict[str, Any]:
    component = {"id": worked.id, "kind": worked.kind} | worked.fields
    records = []
    if worked.activity is not None:
        done = {
            "id": "record:1",
            "activity": worked.activity,
            "subject": [worked.id],
            "performed_at": DONE_ON,
            "recorded_at": f"{DONE_ON}T21:40:12+00:00",
            "outcome": worked.outcome,
            "measurements": worked.measurements,
        }
        records.append({key: value for key, value in done.items() if value is not None})
    return {
        "version": 1,
        "x_shows": worked.shows,
        "facility": {
            "id": "facility:1",
            "name": "Invented Marina",
            "jurisdictions": ["us-federal"],
            "time_zone": "America/New_York",
        },
        "tank_systems": [SYSTEM],
        "components": [*_places(component), component],
        "records": records,
    }


def _places(component: dict[str, Any]) -> list[dict[str, Any]]:
    """What the component hangs on, outermost first."""
    above = PLACES.get(str(component.get("parent")))
    return [] if above is None else [*_places(above), above]

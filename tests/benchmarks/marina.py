"""A site as an operator keeps it: 4 tanks, 32 components, 316 records over three years."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

TODAY = date(2026, 3, 4)
IN_USE = {"installed_on": "2012-04-01", "brought_into_use_on": "2012-05-01"}
PER_TANK: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
    (
        "tank",
        "T",
        "S",
        {
            "release_detection": ["automatic tank gauging"],
            "compartment_capacity_gallons": 10_000,
            "emergency_generator": False,
            "hazardous_substance": False,
            "compartmentalized_ust": False,
            "field_constructed": False,
            "airport_hydrant_system": False,
            "tank_material_description": "fiberglass reinforced plastic",
            "ethanol_pct": 10,
            "biodiesel_pct": 0,
        },
    ),
    ("spill_bucket", "B", "T", {"spill_bucket_wall_type": "single", "both_walls_monitored": False}),
    ("overfill_device", "O", "T", {"overfill_type": "automatic shutoff", "set_level_pct": 95}),
    (
        "piping_run",
        "P",
        "T",
        {
            "piping_style": "pressure",
            "piping_line_leak_detector": True,
            "below_ground": True,
            "elected_piping_release_detection": "monthly monitoring",
            "release_detection": ["interstitial monitoring"],
        },
    ),
    ("line_leak_detector", "L", "P", {}),
    ("containment_sump", "U", "T", {"used_for_interstitial_monitoring": True, "wall": "single"}),
    ("sensor", "N", "U", {"used_for_release_detection": True}),
)
SHARED: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("monitoring_console", "CONSOLE", {}),
    ("cathodic_protection", "RECTIFIER", {"cp_type": "impressed current"}),
    ("dispenser", "DOCK1", {"place": "dock"}),
    ("dispenser", "DOCK2", {"place": "dock"}),
)
WALKED = {"areas": ["spill", "release detection", "sumps", "handheld"]}
DETECTED = {"simulated_leak": True, "leak_rate_gph": 3, "psi": 10, "minutes_to_detect": 20}
WORKS = {"alarm_ok": True, "configuration_ok": True, "battery_ok": True}
DONE: tuple[tuple[str, tuple[str, ...], int, int, dict[str, Any]], ...] = (
    ("tank-monitoring-result", ("T1", "T2", "T3", "T4"), 20, 30, {"method": "automatic tank gauging"}),
    ("piping-monitoring-result", ("P1", "P2", "P3", "P4"), 20, 30, {"method": "interstitial monitoring"}),
    ("walkthrough", ("F",), 36, 30, WALKED),
    ("rectifier-check", ("RECTIFIER",), 18, 60, {}),
    ("line-leak-detector-test", ("L1", "L2", "L3", "L4"), 4, 364, DETECTED),
    ("probe-sensor-test", ("N1", "N2", "N3", "N4"), 4, 364, {}),
    ("controller-test", ("CONSOLE",), 4, 364, WORKS),
    ("spill-bucket-test", ("B1", "B2", "B3", "B4"), 3, 1000, {"method": "liquid"}),
    ("sump-test", ("U1", "U2", "U3", "U4"), 3, 1000, {"method": "liquid"}),
    (
        "overfill-inspection",
        ("O1", "O2", "O3", "O4"),
        3,
        1000,
        {"set_at_required_level": True, "acts_at_level": True},
    ),
    ("cathodic-protection-test", ("RECTIFIER",), 4, 1000, {}),
    ("repair", ("B1", "U2", "P3", "O4"), 6, 150, {"part": "fitting"}),
    ("report-to-agency", ("F",), 2, 300, {"report": "suspected release"}),
)
"""Activity, subjects, how many on each, days between them, what was measured; the newest a few days ago."""


OUTCOMES: dict[str, str | None] = {
    "tank-monitoring-result-T2-5": "fail",
    "tank-monitoring-result-T3-7": "inconclusive",
    "tank-monitoring-result-T3-8": "inconclusive",
    "piping-monitoring-result-P1-3": None,
}
"""What did not pass."""


def marina() -> dict[str, Any]:
    """The site document. Somebody is late here and there, as everywhere."""
    return {
        "facility": {"id": "F", "jurisdictions": ["us-federal"], "time_zone": "America/New_York"},
        "tank_systems": [
            {"id": f"S{number}", "meets_new_or_upgraded_standard": True, **IN_USE} for number in range(1, 5)
        ],
        "components": list(_components()),
        "records": list(_records()),
        "changes": [
            {"of": "S4", "on": "2024-11-01", "status": "temporarily out of service", "residue_in": 0.5},
            {"of": "S4", "on": "2025-04-15", "status": "currently in use"},
        ],
    }


def _components() -> Iterator[dict[str, Any]]:
    for number in range(1, 5):
        for kind, letter, parent, fields in PER_TANK:
            yield {
                "id": f"{letter}{number}",
                "kind": kind,
                "parent": f"{parent}{number}",
                **IN_USE,
                **fields,
            }
    for kind, tag, fields in SHARED:
        yield {"id": tag, "kind": kind, "parent": "S1", **IN_USE, **fields}


def _records() -> Iterator[dict[str, Any]]:
    for activity, subjects, count, days, measured in DONE:
        for place, subject in enumerate(subjects):
            for step in range(count):
                identity = f"{activity}-{subject}-{step}"
                on = TODAY - timedelta(days=3 + 2 * place + step * days)
                yield {
                    "id": identity,
                    "activity": activity,
                    "subject": subject,
                    "performed_at": on.isoformat(),
                    "outcome": OUTCOMES.get(identity, "pass"),
                    "measurements": dict(measured),
                }

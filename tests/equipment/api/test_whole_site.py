"""A whole tank pad and dock, stated through the API and read back. Every figure: common practice, no source."""

from typing import Any

import pytest

from tests.equipment.api.calls import at, post

RATED = {"rated_for_area": True}
TANK_PAD: list[dict[str, Any]] = [
    {"kind": "tank_system", "tag": "S1"},
    {
        "kind": "tank",
        "tag": "T1",
        "parent": "S1",
        "compartment_capacity_gallons": 10_000,
        "tank_secondary_containment": "double wall",
        "tank_material_description": "fiberglass reinforced plastic",
        "interstice": "liquid-filled",
        "interstice_reservoir": True,
        "interstice_level_in": 2.75,
        "release_detection": ["interstitial monitoring", "automatic tank gauging"],
    },
    # Floats between 2.5 and 3 inches in the reservoir: lower or higher says that a wall leaks.
    {
        "kind": "sensor",
        "tag": "SN1",
        "parent": "T1",
        "sensor_type": "float",
        "window_low_in": 2.5,
        "window_high_in": 3.0,
        **RATED,
    },
    {"kind": "monitoring_well", "tag": "MW1", "cap": True, "lock": True},
    {
        "kind": "fill_port",
        "tag": "FP1",
        "parent": "T1",
        "port_use": "delivery",
        "cap": True,
        "lock": True,
        "adaptor": True,
        "drop_tube": True,
    },
    # The limiting valve sits in the drop tube, so it hangs on the fill port.
    {
        "kind": "overfill_device",
        "tag": "OV1",
        "parent": "FP1",
        "overfill_type": "automatic shutoff",
        "set_level_pct": 95,
    },
    {
        "kind": "fill_port",
        "tag": "FP2",
        "parent": "T1",
        "port_use": "spare access",
        "cap": True,
        "lock": True,
    },
    {
        "kind": "spill_bucket",
        "tag": "SB1",
        "parent": "FP1",
        "capacity_gal": 15,
        "drain_valve": True,
        "spill_bucket_wall_type": "double",
    },
    {
        "kind": "containment_sump",
        "tag": "SU1",
        "parent": "T1",
        "place": "tank top",
        "capacity_gal": 175,
        "submersible_pump": True,
        "lid": True,
        "lid_seal": True,
        **RATED,
    },
    {"kind": "sensor", "tag": "SN2", "parent": "SU1", "sensor_type": "liquid", **RATED},
    {"kind": "vent", "tag": "V1", "parent": "T1", "height_ft": 12, "cap": True},
]
LINE_AND_DOCK: list[dict[str, Any]] = [
    {
        "kind": "piping_run",
        "tag": "P1",
        "parent": "T1",
        "piping_style": "pressure",
        "piping_wall_type": "double walled",
        "piping_material": ["flexible plastic"],
        "containment_line": True,
        "entry_boots": 4,
        "piping_line_leak_detector": True,
    },
    {"kind": "line_leak_detector", "tag": "LLD1", "parent": "P1", "detector_type": "mechanical", **RATED},
    {"kind": "shore_valve", "tag": "SHV1", "parent": "P1"},
    {"kind": "dispenser", "tag": "D1", "parent": "P1", "place": "land", "dispenser_udc": True, **RATED},
    {"kind": "containment_sump", "tag": "SU2", "parent": "D1", "place": "dispenser", "lid": None},
    {"kind": "shear_valve", "tag": "SV1", "parent": "D1"},
    {"kind": "dispenser", "tag": "D2", "parent": "P1", "place": "dock", "dispenser_udc": True, **RATED},
    {"kind": "containment_sump", "tag": "SU3", "parent": "D2", "place": "dispenser"},
    {"kind": "hose", "tag": "H1", "parent": "D2", "length_ft": 50},
    {"kind": "emergency_shutoff", "tag": "ES1", "label": "head of the dock"},
    {
        "kind": "monitoring_console",
        "tag": "MC1",
        "indoors": True,
        "outside_overfill_alarm": False,
        "rated_for_area": False,
    },
]


@pytest.fixture
def pad(own, owner_client) -> dict[str, dict[str, Any]]:
    for body in TANK_PAD + LINE_AND_DOCK:
        answer = post(owner_client, at(own, "/components"), body)
        assert answer.status_code == 201, answer.json()
    listed = owner_client.get(at(own, "/components?limit=200")).json()["results"]
    return {one["tag"]: one for one in listed}


def test_everything_stated_is_read_back_as_it_was_stated(pad):
    for body in TANK_PAD + LINE_AND_DOCK:
        assert body.items() <= pad[body["tag"]].items()


def test_the_limiting_valve_leads_up_to_the_tank_system(pad):
    path = ["OV1"]
    while parent := pad[path[-1]]["parent"]:
        path.append(parent)

    assert path == ["OV1", "FP1", "T1", "S1"]


def test_an_outside_alarm_that_is_missing_and_one_nobody_spoke_of_differ(pad, own, owner_client):
    second = post(
        owner_client, at(own, "/components"), {"kind": "monitoring_console", "indoors": True}
    ).json()

    assert pad["MC1"]["outside_overfill_alarm"] is False
    assert second["outside_overfill_alarm"] is None


def test_every_part_of_the_pad_is_on_the_checklist_of_its_kind(pad, own, owner_client):
    asked = owner_client.get(at(own, "/checklist")).json()["results"]

    at_components = {row["component"] for row in asked} - {None}
    assert {"MW1", "FP1", "FP2", "SB1", "SU1", "SU2", "SU3", "V1", "MC1", "H1", "SHV1"} <= at_components

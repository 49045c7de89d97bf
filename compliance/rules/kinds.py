"""The kinds of items that a site document holds and a rule can be about."""

COMPONENT_KINDS = (
    "tank",
    "compartment",
    "piping_run",
    "spill_bucket",
    "overfill_device",
    "containment_sump",
    "line_leak_detector",
    "sensor",
    "cathodic_protection",
    "dispenser",
    "hose",
    "monitoring_console",
    "monitoring_well",
    "vent",
    "fill_port",
    "shear_valve",
    "shore_valve",
    "emergency_shutoff",
    "vac_pressure_device",
    "handheld_rd_device",
)
"""Equipment, each below the facility, a tank system or another component."""

PLACE_KINDS = ("facility", "tank_system", *COMPONENT_KINDS)
"""What stands somewhere: it can be shut, closed or removed, and a status is inherited down from it."""

ROW_KINDS = (
    "record",
    "delivery",
    "alarm",
    "spill",
    "release",
    "person",
    "designation",
    "document",
    "finding",
    "event",
    "plan",
)
"""What happened, was written, decided or is meant to happen."""

ALL_KINDS = (*PLACE_KINDS, *ROW_KINDS)

PLACES = frozenset(PLACE_KINDS)
"""The same as `PLACE_KINDS`, for the many times that it is asked whether a kind is one of them."""

"""Examples of the check before a delivery: 96 in x 27 ft tank with a flat-ended chart, figures worked out by it."""

from typing import Any

ASKED: dict[str, Any] = {
    "checked_at": "2026-02-27T13:40:00-05:00",
    "order_gal": 4000,
    "tanks": [{"tag": "T1", "level_in": 45.5, "water_in": 0.5, "product_degf": 52}],
    "spill_buckets": [
        {
            "tag": "SB1",
            "undamaged": True,
            "liquid_removed": True,
            "fill_pipe_clear": True,
            "cap_secure": True,
        }
    ],
    "pumped": False,
    "watcher": "R. Ames",
}
JOINED: dict[str, Any] = {
    "checked_at": "2026-02-27T13:40:00-05:00",
    "order_gal": 7500,
    "tanks": [
        {"tag": "T1", "level_in": 45.5, "water_in": 0},
        {"tag": "T2", "product_gal": 4610, "water_gal": 8},
    ],
    "watcher": "R. Ames",
}
ANSWER: dict[str, Any] = {
    "id": 91,
    "checked_at": "2026-02-27T18:40:00+00:00",
    "refused": False,
    "reasons": [],
    "fits": True,
    "order_gal": 4000.0,
    "room_gal": 4907.6,
    "largest_order_gal": 4907.0,
    "joined": False,
    "tanks": [
        {
            "component": "T1",
            "level_in": 45.5,
            "water_in": 0.5,
            "product_gal": 4728.0,
            "water_gal": 9.1,
            "product_degf": 52.0,
            "capacity_gal": 10152.3,
            "limit_pct": 95.0,
            "limit_because": "OV1, automatic shutoff: 95 percent (40 CFR 280.20(c)(1)(ii)(A))",
            "charted": True,
            "gravity_only": None,
        }
    ],
    "rules": [
        {
            "cite": "40 CFR 280.30(a): the volume available is greater than the volume to be transferred",
            "required_gal": 4000.0,
            "largest_order_gal": 4907.0,
            "fits": True,
        }
    ],
    "spill_buckets": [
        {
            "component": "SB1",
            "undamaged": True,
            "liquid_removed": True,
            "fill_pipe_clear": True,
            "cap_secure": True,
            "interstice_dry": None,
        }
    ],
    "spill_buckets_checked": True,
    "pumped": False,
    "watcher": "R. Ames",
    "load_degf": None,
    "api_gravity": None,
    "api_read_degf": None,
    "growth_gal": None,
    "remarks": [],
    "cautions": [
        {
            "text": "Somebody stays and watches the whole transfer ...",
            "source": "40 CFR 280.30(a); emergency stop: common practice, no source",
        }
    ],
    "note": None,
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-02-27T18:42:00Z",
    "recorded_by": "R. Ames",
    "withdrawn": None,
}

"""Examples of tank charts for the description: a 96 in x 27 ft tank with flat ends, computed here."""

from typing import Any

from equipment.api.chart_answers import device_heights
from equipment.physics.charts import computed_chart
from equipment.physics.tank import Tank

_TANK = Tank(diameter_in=96.0, length_in=324.0)
_CHART = computed_chart(_TANK)
_ROWS = [{"depth_in": row.depth_in, "gal": round(row.gal, 1)} for row in _CHART.rows[::32]]

SUPPLIED: dict[str, Any] = {
    "source": "maker's chart",
    "effective_on": None,
    "note": "Sheet 4 of the delivery papers",
    "rows": _ROWS,
    "geometry": {"length_in": 324.0},
}
COMPUTED: dict[str, Any] = {
    "source": "computed",
    "effective_on": "2026-02-27",
    "note": None,
    "geometry": {
        "diameter_in": 96.0,
        "length_in": 324.0,
        "heads": {"shape": "flat"},
        "stick_readings": {"low_end_in": 40.0, "high_end_in": 38.0, "apart_in": 240.0},
        "gauge_from_low_end_in": 36.0,
    },
    "step_in": 0.125,
}
FORM: dict[str, Any] = {
    "file": "depth_in,gal\n0,0\n48,5076.2\n96,10152.3\n",
    "source": "maker's chart",
    "note": "Sheet 4 of the delivery papers",
    "geometry": '{"length_in": 324.0}',
}
ANSWER: dict[str, Any] = {
    "id": 7,
    "component": "T1",
    "source": "maker's chart",
    "effective_on": None,
    "replaced_on": None,
    "note": "Sheet 4 of the delivery papers",
    "geometry": {
        "diameter_in": 96.0,
        "length_in": 324.0,
        "heads": {"shape": "flat", "depth_in": 0.0, "dish_ratio": 1.0, "knuckle_ratio": 0.06},
        "slope": 0.0,
        "gauge_from_low_end_in": None,
    },
    "capacity_gal": 10152.3,
    "full_in": 96.0,
    "device_heights": [each | {"gal": round(each["gal"], 1)} for each in device_heights(_CHART)],
    "submitted_by": "Point Marinas",
    "recorded_at": "2026-02-27T18:00:00Z",
    "recorded_by": "R. Ames",
    "withdrawn_at": None,
    "withdrawn_reason": None,
    "withdrawn_by": None,
}
FULL_ANSWER: dict[str, Any] = ANSWER | {
    "rows": _ROWS,
    "check": {
        "basis": "the shape stated with the chart",
        "flag_percent": 2.0,
        "differences": [],
        "remarks": [],
    },
}

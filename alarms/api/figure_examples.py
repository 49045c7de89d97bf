"""An answer with figures, for the OpenAPI file."""

from typing import Any

WAITS: dict[str, Any] = {
    "answered": 4,
    "waiting": 1,
    "median_s": 540.0,
    "p90_s": 5400.0,
    "longest_answered_s": 5400.0,
    "longest_answered_alarm": 12,
    "longest_waiting_s": 86400.0,
    "longest_waiting_alarm": 31,
}
BOTH = {"from_raised": WAITS, "from_opened": WAITS}
SPAN = {
    "time_zone": "America/New_York",
    "first_at": "2026-02-02T05:00:00Z",
    "until_at": "2026-03-04T15:00:00Z",
}
FIGURES: dict[str, Any] = {
    "alarms": 5,
    "exercises": 3,
    "raises": 9,
    "raises_per_day": 0.3,
    "acknowledgement": BOTH,
    "disposition": BOTH,
    "without_disposition": 1,
    "chattering": 1,
    "fleeting": 0,
    "unacknowledged": {"alarms": 1, "longest_s": 86400.0, "alarm": 31},
    "standing": {
        "alarms": 1,
        "stale": 1,
        "oldest_raised_at": "2026-03-03T14:58:00Z",
        "oldest_alarm": 31,
    },
    "peak": {
        "raises": 4,
        "facility": 7,
        "first_at": "2026-02-20T08:00:00Z",
        "last_at": "2026-02-20T08:06:00Z",
        "flood": False,
    },
    "floods": 0,
}
COUNTED: dict[str, Any] = {
    "alarms": 5,
    "acknowledgement": WAITS,
    "disposition": WAITS,
    "without_disposition": 1,
}
REPORT: dict[str, Any] = {
    "as_of": "2026-03-04T15:00:00Z",
    "spans": [SPAN],
    "figures": FIGURES,
    "classes": [{"condition_class": "equipment fault", **COUNTED, "standing": 1}],
    "bad_actors": [
        {
            "facility": 7,
            "facility_name": "Point Three Marina",
            "component": "SN1",
            "device": None,
            "condition": "sensor-fault",
            "title": "Sensor or probe gives no reading",
            "condition_class": "equipment fault",
            "raises": 6,
            "share": 0.667,
            "episodes": 2,
            "last_raised_at": "2026-03-03T14:58:00Z",
        }
    ],
    "shelved": [],
    "out_of_service": [],
    "facilities": [{"facility": 7, "name": "Point Three Marina", "span": SPAN, "figures": FIGURES}],
    "windows": [{"until": "2026-03-04", "raises": 9, "chattering": 1, "fleeting": 0, **COUNTED}],
}

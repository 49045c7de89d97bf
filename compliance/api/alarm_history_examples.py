"""An answer with the history of one alarm, for the OpenAPI file."""

from typing import Any

from alarms.api.disposition_shapes import ON_FILE, SHOWN
from equipment.api.attachment_shapes import NAMED

HISTORY: dict[str, Any] = {
    "facility": 7,
    "name": "Point Three Marina",
    "time_zone": "America/New_York",
    "first_at": "2026-03-01T05:00:00Z",
    "until_at": "2026-04-01T04:00:00Z",
    "made_at": "2026-04-02T13:00:00Z",
    "made_for": "R. Ames",
    "unacknowledged": 0,
    "without_disposition": 0,
    "cannot_judge": None,
    "alarms": [
        {
            "alarm": 12,
            "merged": [],
            "component": "SU1",
            "device": "",
            "condition": "sump-fuel",
            "title": "Fuel in a sump",
            "condition_class": "monitoring result",
            "exercise": None,
            "stood_on_at": None,
            "priority": "high",
            "state": "normal",
            "raised_at": "2026-03-04T14:58:00Z",
            "opened_at": "2026-03-04T15:00:00Z",
            "last_raised_at": "2026-03-04T14:58:00Z",
            "occurrences": 1,
            "cleared_at": "2026-03-04T17:45:00Z",
            "untold_reason": None,
            "told": [
                {
                    "name": "Dock office",
                    "organisation": "Own Marinas",
                    "first_at": "2026-03-04T15:00:02Z",
                    "last_at": "2026-03-04T15:00:02Z",
                    "mails": 1,
                    "failed": 0,
                }
            ],
            "steps": [
                {
                    "kind": "acknowledge",
                    "at": "2026-03-04T15:04:00Z",
                    "by": "dock office",
                    "note": "On my way, pump is off.",
                    "until": None,
                    "record": None,
                }
            ],
            "dispositions": [{**SHOWN, **ON_FILE}],
            "statements": [],
            "clocks": [
                {
                    "rule": "report-suspected-release",
                    "title": "Suspected release reported within 24 hours",
                    "party": "owner or operator",
                    "standing": "met",
                    "runs_from": "2026-03-04T14:58:00Z",
                    "due": "2026-03-05T09:58:00-05:00",
                    "late_intervals": [],
                    "evidence": ["record:91"],
                    "sentence": "Suspected release reported within 24 hours (alarm 12): in order.",
                    "cite": "40 CFR 280.50(a)-(c)",
                    "verified": "VS",
                }
            ],
            "attachments": [{"file": NAMED, "attached_at": "2026-03-04T16:10:00Z", "attached_by": "R. Ames"}],
            "filed": [
                {
                    "id": 91,
                    "activity": "report-to-agency",
                    "performed_on": "2026-03-04",
                    "performed_at": "2026-03-04T20:00:00Z",
                    "recorded_at": "2026-03-04T20:10:00Z",
                    "entered_by": "R. Ames",
                    "submitted_by": "Own Marinas",
                    "outcome": None,
                    "measurements": {"report": "suspected release", "number": "2026-0117"},
                    "note": None,
                    "attachments": [],
                    "withdrawn_at": None,
                    "withdrawn_reason": None,
                    "withdrawn_by": None,
                    "superseded_by": None,
                }
            ],
        }
    ],
}

"""One invented example of each answer, for the OpenAPI file."""

from typing import Any

from drf_spectacular.utils import OpenApiExample

from compliance.api.verdict_examples import OVERSTATED, PASSED
from equipment.api.attachment_shapes import NAMED

RECORD: dict[str, Any] = {
    "id": 88,
    "facility": 3,
    "activity": "line-leak-detector-test",
    "subjects": ["LLD1"],
    "performed_at": "2026-02-27T19:05:00+00:00",
    "recorded_at": "2026-02-27T21:40:12Z",
    "submitted_by": "Plumbob Tank Testing",
    "entered_by": "key q2OTpFra (Plumbob Tank Testing)",
    "performer": None,
    "technician": "R. Ames",
    "certificate": None,
    "outcome": "pass",
    "verdict": PASSED,
    "no_verdict": None,
    "measurements": {"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 4},
    "stated_units": None,
    "regarding": None,
    "note": None,
    "external_id": "job-8812/LLD1",
    "supersedes": None,
    "superseded_by": None,
    "withdrawn": None,
    "attachments": [NAMED],
    "conflicts": [],
}
DISPUTED: dict[str, Any] = RECORD | {
    "id": 131,
    "activity": "spill-bucket-test",
    "subjects": ["SB1"],
    "verdict": OVERSTATED,
    "measurements": {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 10.75},
    "stated_units": {
        "/level_start_in": {"value": 279.4, "unit": "mm"},
        "/level_end_in": {"value": 273.05, "unit": "mm"},
    },
    "external_id": "job-8841/SB1",
    "facility_name": "Mallard Ferry Docks",
    "operator": "Quillback Harbor Company",
}
OBLIGATION: dict[str, Any] = {
    "id": 412,
    "facility": 3,
    "facility_name": "Mallard Ferry Docks",
    "rule": "annual-alld-test",
    "pack": "us-federal",
    "title": "Line leak detector tested with a simulated leak once a year",
    "subject": "LLD1",
    "subject_kind": "line_leak_detector",
    "party": "owner or operator",
    "standing": "overdue",
    "due": "2026-01-20",
    "days_late": 38,
    "sentence": "Line leak detector tested with a simulated leak once a year (LLD1): overdue since 2026-01-20.",
    "cite": "40 CFR 280.40(a)(3)(iii), 280.44(a)",
    "verified": "VT/VS",
    "reason": "",
    "changed_at": "2026-01-21T06:00:04Z",
}
FINDING: dict[str, Any] = {
    "rule": "annual-alld-test",
    "title": "Line leak detector tested with a simulated leak once a year",
    "task": "Have a leak of 3 gallons an hour simulated on the line and see that the detector finds it.",
    "version": "1990-12-22",
    "pack": "us-federal",
    "subject": "LLD1",
    "subject_kind": "line_leak_detector",
    "party": "owner or operator",
    "standing": "overdue",
    "due": "2026-01-20",
    "late_intervals": [],
    "evidence": ["record:61"],
    "not_counted": [],
    "missing": [],
    "could_change": [],
    "why": [{"path": "status", "value": "currently in use"}],
    "reason": "",
    "sentence": "Line leak detector tested with a simulated leak once a year (line leak detector LLD1): overdue since "
    "2026-01-20.",
    "cite": "40 CFR 280.40(a)(3)(iii), 280.44(a)",
    "verified": "VT/VS",
}
LATE: dict[str, Any] = {
    "rule": "annual-alld-test",
    "pack": "us-federal",
    "title": "Line leak detector tested with a simulated leak once a year",
    "subject": "LLD1",
    "subject_kind": "line_leak_detector",
    "party": "owner or operator",
    "due": "2025-01-20",
    "done": "2025-02-03",
    "ended": "2025-02-03",
    "days_late": 14,
    "before": ["record:61"],
    "after": ["record:74"],
    "cite": "40 CFR 280.40(a)(3)(iii), 280.44(a)",
    "verified": "VT/VS",
    "sentence": "Line leak detector tested with a simulated leak once a year (line leak detector LLD1): due "
    "2025-01-20, done 2025-02-03, 14 days late.",
}
NOT_SHOWN: dict[str, Any] = {
    "rule": "rec-annual-operation",
    "subject": "record:91",
    "record": "record:91",
    "recorded_at": "2026-03-09T14:00:00+00:00",
    "cite": "40 CFR 280.45(b)(1)",
    "verified": "VS",
    "sentence": "Annual equipment tests kept three years: the controller test of 2025-11-04 was not on file that day; "
    "it was recorded on 2026-03-09.",
}
KEPT: dict[str, Any] = {
    "subject": "record:74",
    "kind": "record",
    "about": "line-leak-detector-test",
    "on": "2025-02-03",
    "keep": True,
    "until": "2028-02-03",
    "advice": "Keep it to 2028-02-03.",
    "rules": [
        {
            "rule": "rec-annual-operation",
            "pack": "us-federal",
            "title": "Annual equipment tests kept three years",
            "keep": True,
            "until": "2028-02-03",
            "sentence": "Annual equipment tests kept three years: keep it to 2028-02-03.",
            "cite": "40 CFR 280.45(b)(1)",
            "verified": "VS",
        }
    ],
}
STANDING: dict[str, Any] = {
    "facility": 3,
    "code": "MALLARD",
    "name": "Mallard Ferry Docks",
    "operator": "Quillback Harbor Company",
    "facility_state": "WI",
    "worst": "overdue",
    "counts": {"overdue": 5, "due soon": 1, "met": 17},
    "disagreements": 1,
    "incomplete_tests": 0,
    "next_late_from": "2026-03-12T06:00:00Z",
    "judged_at": "2026-02-27T21:40:12Z",
    "fresh": True,
    "last_error": "",
    "nobody_to_tell": False,
}
RULE: dict[str, Any] = {
    "id": "annual-alld-test",
    "pack": "us-federal",
    "title": "Line leak detector tested with a simulated leak once a year",
    "task": "Have a leak of 3 gallons an hour simulated on the line and see that the detector finds it.",
    "subject": ["line_leak_detector"],
    "versions": [
        {"effective": "1990-12-22", "off": False, "cite": "40 CFR 280.44(a)", "verified": "VT"},
    ],
}
SITE_DOCUMENT: dict[str, Any] = {
    "version": 1,
    "facility": {"id": "facility:3", "jurisdictions": ["us-federal"], "time_zone": "America/Chicago"},
    "tank_systems": [{"id": "S1", "brought_into_use_on": "2002-09-30"}],
    "components": [{"id": "T1", "kind": "tank", "parent": "S1", "installed_on": "2002-09-30"}],
    "changes": [],
    "records": [
        {
            "id": "record:88",
            "activity": "tank-monitoring-result",
            "subject": ["T1"],
            "performed_at": "2026-02-20",
            "outcome": "pass",
            "measurements": {"method": "automatic tank gauging"},
        }
    ],
    "alarms": [],
}


def example(name: str, value: object) -> OpenApiExample:
    """An example of an answer."""
    return OpenApiExample(name, value=value, response_only=True, status_codes=["200"])

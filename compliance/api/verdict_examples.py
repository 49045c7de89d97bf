"""Invented examples of verdicts, for the OpenAPI file: a test that passes, and a reported pass whose numbers fail."""

from typing import Any

_CHECK: dict[str, Any] = {
    "of": None,
    "part": "result",
    "holds": True,
    "comparison": ">=",
    "unit": "yes",
    "jurisdiction": "us-federal",
    "source": "40 CFR 280.44(a)",
    "verified": "VT",
    "missing": [],
}
PASSED: dict[str, Any] = {
    "outcome": "pass",
    "counted": "pass",
    "reported": "pass",
    "disagreement": False,
    "criterion": "The detector restricts or shuts off the flow, or gives the alarm",
    "comparison": ">=",
    "limit": 1.0,
    "measured": 1.0,
    "margin": 0.0,
    "unit": "yes",
    "rounding": "compared unrounded",
    "source": "40 CFR 280.44(a)",
    "verified": "VT",
    "missing": [],
    "notes": [],
    "checks": [
        _CHECK
        | {
            "criterion": "The detector restricts or shuts off the flow, or gives the alarm",
            "limit": 1.0,
            "measured": 1.0,
            "margin": 0.0,
        },
        _CHECK
        | {
            "criterion": "Time in which the detector finds the leak",
            "comparison": "<=",
            "limit": 60.0,
            "measured": 4.0,
            "margin": 56.0,
            "unit": "minutes",
        },
    ],
}
_FALL: dict[str, Any] = {
    "criterion": "Fall of the water in a spill bucket over the test",
    "comparison": "<",
    "limit": 0.125,
    "measured": 0.25,
    "margin": -0.125,
    "unit": "in",
    "source": "PEI RP 1200 section 6.2.6, p. 15",
    "verified": "seen",
    "missing": [],
}
OVERSTATED: dict[str, Any] = {
    "outcome": "fail",
    "counted": "fail",
    "reported": "pass",
    "disagreement": True,
    **_FALL,
    "rounding": "read to 1/16 in, compared as read",
    "notes": [
        "The record reports a pass and its numbers fail. The numbers count; correct whichever of the two is wrong."
    ],
    "checks": [{"of": None, "part": "result", "holds": False, "jurisdiction": "any", **_FALL}],
}

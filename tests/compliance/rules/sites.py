"""Documents for the tests of the engine: one facility in New York with one system and one spill bucket."""

from typing import Any


def site(
    *records: dict[str, Any], changes: list[dict[str, Any]] | None = None, **parts: Any
) -> dict[str, Any]:
    """A document with these records. `bucket` adds fields to the spill bucket SB; other names are its other parts."""
    bucket = {"id": "SB", "kind": "spill_bucket", "parent": "S"} | parts.pop("bucket", {})
    facility = {"id": "F", "time_zone": "America/New_York"} | parts.pop("facility", {})
    document = {"facility": facility, "tank_systems": [{"id": "S"}], "components": [bucket]}
    return document | {"records": list(records), "changes": changes or []} | parts


def cup_test(performed_at: str, outcome: str | None = "pass", **more: Any) -> dict[str, Any]:
    """A test of the bucket."""
    row = {"activity": "cup-test", "subject": "SB", "performed_at": performed_at, "outcome": outcome}
    return row | more

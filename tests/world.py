"""Plain functions that put a small world on file. Every test world has three parties: an owner, a contractor that the
owner let in, and a stranger with a facility of its own."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from equipment.models import Component, Facility, FacilityAccess, Organisation
from equipment.services import keys, register
from equipment.vocabulary import AccessRole, KeyRole, OrganisationKind

# A Wednesday morning. Tests that depend on another moment say so.
NOW = datetime(2026, 3, 4, 15, 0, tzinfo=UTC)
TODAY = date(2026, 3, 4)


def organisation(name: str, kind: str = OrganisationKind.OPERATOR) -> Organisation:
    """An organisation on file."""
    return Organisation.objects.create(name=name, kind=kind, created_at=NOW)


def facility(
    operator: Organisation,
    code: str = "A",
    *,
    since: datetime = datetime(2020, 1, 1, tzinfo=UTC),
    **fields: Any,
) -> Facility:
    """A facility under the federal rules in New York's zone, its operator let in since 2020."""
    stated = {
        "code": code,
        "name": f"Marina {code}",
        "time_zone": "America/New_York",
        "jurisdictions": ["us-federal"],
    }
    return register.open_facility(operator=operator, by="test", now=since, fields=stated | fields)


def component(at: Facility, kind: str, tag: str | None = None, **fields: Any) -> Component:
    """A component on file; `parent` and `replaces` are tags."""
    links = {name: fields.pop(name) for name in ("parent", "replaces") if name in fields}
    return register.add_component(facility=at, kind=kind, tag=tag, fields=fields, **links)


def grant(
    to: Organisation,
    at: Facility,
    role: str = AccessRole.CONTRACTOR,
    *,
    starts_at: datetime = NOW - timedelta(days=400),
    ends_at: datetime | None = None,
) -> FacilityAccess:
    """A dated grant."""
    return FacilityAccess.objects.create(
        organisation=to, facility=at, role=role, starts_at=starts_at, ends_at=ends_at, granted_by="test"
    )


def key(of: Organisation, role: str = KeyRole.MANAGER, *, now: datetime = NOW) -> str:
    """The secret of a fresh key; it expires a thousand days later, so that tests may use the real clock."""
    _, secret = keys.make_key(
        organisation=of, name="test", now=now, expires_at=now + timedelta(days=1000), role=role
    )
    return secret


# Numbers of tests as a contractor posts them. What they come to is worked out by the service.
TIGHT_BUCKET = {"method": "liquid", "minutes": 60, "level_start_in": 11.0, "level_end_in": 10.9375}
LEAKING_BUCKET = TIGHT_BUCKET | {"level_end_in": 10.75}
TIGHT_TANK = {"leak_rate_gph": 0.01, "threshold_gph": 0.05}
LEAKING_TANK = TIGHT_TANK | {"leak_rate_gph": 0.2}
LEAK_FOUND = {"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "minutes_to_detect": 6}
LEAK_MISSED = {"simulated_leak": True, "leak_rate_gph": 3.0, "psi": 10.0, "response": "none"}

IN_USE = {"brought_into_use_on": date(2010, 5, 1)}
INSTALLED = {"installed_on": date(2010, 4, 1)} | IN_USE
LINE: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("tank_system", "S1", IN_USE),
    (
        "tank",
        "T1",
        {
            "parent": "S1",
            "compartment_capacity_gallons": 10_000,
            "release_detection": ["automatic tank gauging"],
        }
        | INSTALLED,
    ),
    ("spill_bucket", "SB1", {"parent": "T1", "spill_bucket_wall_type": "single"} | IN_USE),
    ("overfill_device", "OV1", {"parent": "T1", "overfill_type": "automatic shutoff"} | IN_USE),
    (
        "piping_run",
        "P1",
        {"parent": "T1", "piping_style": "pressure", "piping_line_leak_detector": True} | INSTALLED,
    ),
    ("line_leak_detector", "LLD1", {"parent": "P1"} | IN_USE),
    ("containment_sump", "SU1", {"parent": "T1", "place": "tank top"} | IN_USE),
    ("sensor", "SN1", {"parent": "SU1", "used_for_release_detection": True} | IN_USE),
)


def line(at: Facility) -> dict[str, Component]:
    """One tank with what hangs on it: T1, bucket SB1, overfill OV1, run P1 with detector LLD1, sump SU1, sensor SN1."""
    return {tag: component(at, kind, tag, **fields) for kind, tag, fields in LINE}

"""Puts the demo's organisations, marinas and equipment on file, through the services that everybody uses."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from compliance.demo.scenario import CONTRACTOR, GATEWAY, OPERATOR, SITES, Line, Site
from equipment.models import Facility, FacilityAccess, Organisation
from equipment.services import keys, register
from equipment.vocabulary import AccessRole, KeyRole, OrganisationKind

KEY_LIFE = timedelta(days=365)


@dataclass(frozen=True)
class Cast:
    """Who plays: the organisations, and the secrets of their keys (shown by the demo, kept nowhere)."""

    operator: Organisation
    contractor: Organisation
    gateways: Organisation
    operator_key: str
    contractor_key: str
    gateway_key: str


def build_cast(*, since: datetime, now: datetime) -> Cast:
    """Three organisations with a key each."""
    operator = _organisation(OPERATOR, OrganisationKind.OPERATOR, since)
    contractor = _organisation(CONTRACTOR, OrganisationKind.CONTRACTOR, since)
    gateways = _organisation(GATEWAY, OrganisationKind.OPERATOR, since)
    return Cast(
        operator,
        contractor,
        gateways,
        _key(operator, "demo desk", KeyRole.MANAGER, now),
        _key(contractor, "test van", KeyRole.STAFF, now),
        _key(gateways, "site gateway", KeyRole.GATEWAY, now),
    )


def build_site(site: Site, cast: Cast, *, since: datetime) -> Facility:
    """One marina with its tank pad and dock; contractor and gateway let in."""
    facility = register.open_facility(operator=cast.operator, by="demo", now=since, fields=_facility(site))
    for organisation, role in ((cast.contractor, AccessRole.CONTRACTOR), (cast.gateways, AccessRole.GATEWAY)):
        FacilityAccess.objects.create(
            organisation=organisation, facility=facility, role=role, starts_at=since, granted_by="demo"
        )
    first = min((line.installed_on for line in site.lines if line.installed_on), default=None)
    age = {"installed_on": first, "brought_into_use_on": first}
    _add(facility, "tank_system", "S1", parent=None, meets_new_or_upgraded_standard=True, **age)
    _add(facility, "monitoring_console", "MC1", parent="S1", brought_into_use_on=first, indoors=True)
    _add(facility, "monitoring_well", "MW1", cap=True, lock=True)
    _add(facility, "emergency_shutoff", "ES1", brought_into_use_on=first)
    for number, line in enumerate(site.lines, start=1):
        _add_tank(facility, line, number)
        _add_piping(facility, line, number)
    return facility


def _facility(site: Site) -> dict[str, Any]:
    return {
        "code": site.code,
        "name": site.name,
        "facility_type1": "marina",
        "facility_city": site.city,
        "facility_state": site.state,
        "time_zone": site.time_zone,
        "jurisdictions": ["us-federal"],
        "over_water": True,
        "floating": site.floating,
        "attended": True,
        "petroleum_marketing": True,
        "owner_tank_count": sum(len(one.lines) for one in SITES),
    }


def _add_tank(facility: Facility, line: Line, number: int) -> None:
    tank, since = f"T{number}", _since(line)
    _add(
        facility,
        "tank",
        tank,
        parent="S1",
        compartment_capacity_gallons=line.capacity_gal,
        substance=line.product,
        ethanol_pct=0,
        biodiesel_pct=0,
        hazardous_substance=False,
        federally_regulated=True,
        emergency_generator=False,
        field_constructed=False,
        airport_hydrant_system=False,
        compartmentalized_ust=False,
        cp_type="not required",
        tank_material_description="fiberglass reinforced plastic",
        tank_secondary_containment="double wall" if line.double_wall else "single wall",
        interstice="liquid-filled" if line.double_wall else "none",
        interstice_reservoir=line.double_wall or None,
        release_detection=["interstitial monitoring" if line.double_wall else "automatic tank gauging"],
        **since,
    )
    _add(
        facility,
        "fill_port",
        f"FP{number}",
        parent=tank,
        port_use="delivery",
        cap=True,
        lock=True,
        drop_tube=True,
    )
    bucket = {"spill_bucket_wall_type": "single", "capacity_gal": 15, "drain_valve": True}
    _add(facility, "spill_bucket", f"SB{number}", parent=tank, **bucket, **since)
    level = 90 if line.overfill == "high-level alarm" else 95
    device = {"overfill_type": line.overfill, "set_level_pct": level}
    _add(facility, "overfill_device", f"OV{number}", parent=f"FP{number}", **device, **since)
    _add(facility, "vent", f"V{number}", parent=tank, height_ft=12, cap=True)
    _add_sensor(facility, f"SN{number}A", tank, line, "float" if line.double_wall else "probe")


def _add_piping(facility: Facility, line: Line, number: int) -> None:
    run, since = f"P{number}", _since(line)
    _add(
        facility,
        "piping_run",
        run,
        parent=f"T{number}",
        piping_style="pressure",
        piping_wall_type="double walled" if line.double_wall else "single walled",
        piping_material=["flexible plastic"],
        release_detection=[
            "interstitial monitoring" if line.double_wall else "line tightness testing annual"
        ],
        piping_line_leak_detector=True,
        below_ground=True,
        **since,
    )
    kind = "electronic" if line.double_wall else "mechanical"
    _add(facility, "line_leak_detector", f"LLD{number}", parent=run, detector_type=kind, **since)
    _add_sump(facility, f"SU{number}", f"T{number}", line, "tank top")
    connection = {"connection_installed_on": line.installed_on, "dispenser_udc": True}
    _add(facility, "dispenser", f"D{number}", parent="S1", place=line.place, **connection, **since)
    _add_sump(facility, f"SU{number}D", f"D{number}", line, "dispenser")
    _add_sensor(facility, f"SN{number}B", f"SU{number}", line, "liquid", used=line.double_wall)
    _add(facility, "shear_valve", f"SV{number}", parent=f"D{number}", **since)
    if line.place == "dock":
        _add(facility, "shore_valve", f"SHV{number}", parent=run, **since)
        _add(facility, "hose", f"H{number}", parent=f"D{number}", length_ft=40)


def _add_sump(facility: Facility, tag: str, parent: str, line: Line, place: str) -> None:
    tank_top = place == "tank top"
    _add(
        facility,
        "containment_sump",
        tag,
        parent=parent,
        place=place,
        wall="single",
        used_for_interstitial_monitoring=line.double_wall,
        capacity_gal=175 if tank_top else 40,
        submersible_pump=tank_top,
        lid=True,
        lid_seal=True,
        **_since(line),
    )


def _add_sensor(
    facility: Facility, tag: str, parent: str, line: Line, sensor_type: str, *, used: bool = True
) -> None:
    use = {"sensor_type": sensor_type, "used_for_release_detection": used}
    _add(facility, "sensor", tag, parent=parent, **use, **_since(line))


def _since(line: Line) -> dict[str, Any]:
    """Installed and brought into use on one day; nothing where nobody knows it any more."""
    return {"installed_on": line.installed_on, "brought_into_use_on": line.installed_on}


def _add(facility: Facility, kind: str, tag: str, *, parent: str | None = None, **fields: Any) -> None:
    stated = {name: value for name, value in fields.items() if value is not None}
    register.add_component(facility=facility, kind=kind, tag=tag, parent=parent, fields=stated)


def _organisation(name: str, kind: str, since: datetime) -> Organisation:
    return Organisation.objects.create(name=name, kind=kind, created_at=since)


def _key(organisation: Organisation, name: str, role: str, now: datetime) -> str:
    _, secret = keys.make_key(
        organisation=organisation, name=name, role=role, now=now, expires_at=now + KEY_LIFE
    )
    return secret

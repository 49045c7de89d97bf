"""What the register says about the tanks of a delivery: chart, device, walls, buckets, and which of them are joined."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from compliance.protocols.delivery_buckets import Bucket
from compliance.protocols.delivery_tanks import Device, Vessel
from equipment.change_log import InForce, in_force_at_components
from equipment.faults import Fault
from equipment.models import Compartment, Component, Facility, OverfillDevice, SpillBucket, Tank
from equipment.queries import charts_of, components_of
from equipment.vocabulary import Kind, Status, TankContainment, TankMaterial

CLOSED = frozenset({Status.CLOSED_REMOVED, Status.CLOSED_IN_PLACE, Status.CLOSED_GENERAL, Status.ABANDONED})
WALLS_APART = {TankContainment.DOUBLE, TankContainment.TRIPLE}


@dataclass
class Site:
    """`vessels` in the order of the tags asked for; with faults they are empty. `reasons` refuse any load."""

    vessels: list[Vessel] = field(default_factory=list)
    buckets: list[Bucket] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


class _Register:
    """The components of one facility with what dated changes say of them today."""

    def __init__(self, facility: Facility) -> None:
        self.rows = [
            row for row in components_of([facility.pk]).get(facility.pk, []) if row.removed_on is None
        ]
        self.by_tag = {row.tag: row for row in self.rows}
        self.by_id = {row.pk: row for row in self.rows}
        self._changed: Mapping[int, InForce] = in_force_at_components([row.pk for row in self.rows])

    def value(self, row: Component, name: str) -> Any:
        """A field as it holds today."""
        told = self._changed.get(row.pk, InForce()).changed.get(name)
        return getattr(row, name) if told is None else told.value

    def status(self, row: Component, day: date) -> str | None:
        """Its status where one of today held on that day already; None: nothing is said."""
        told = self._changed.get(row.pk, InForce()).status
        return told.status if told is not None and told.effective_on <= day else None

    def shell(self, row: Component) -> Component:
        """The tank itself, or the one in which a compartment lies."""
        parent = self.by_id.get(row.parent_id or 0)
        return parent if isinstance(row, Compartment) and parent is not None else row

    def parts(self, row: Component) -> list[Component]:
        """What hangs on it, directly or by way of a fill port; parts of compartments belong to those."""
        near = [each for each in self.rows if each.parent_id == row.pk]
        ports = [each.pk for each in near if each.kind == Kind.FILL_PORT]
        return near + [each for each in self.rows if each.parent_id in ports]


def site_of(facility: Facility, tags: Sequence[str], bucket_tags: Sequence[str], day: date) -> Site:
    """Everything that the check needs to know of these tanks on this day; a fixed number of queries."""
    register = _Register(facility)
    site = Site(faults=[*_tank_faults(register, tags, day), *_bucket_faults(register, bucket_tags)])
    if site.faults:
        return site
    tanks = [register.by_tag[tag] for tag in tags]
    site.faults += _joining_faults(register, tanks)
    site.remarks += _joining_remarks(register, tanks)
    _note_statuses(site, register, tanks, day)
    charts = charts_of([tank.pk for tank in tanks], on=day)
    for tank in tanks:
        parts = register.parts(tank)
        site.vessels.append(
            Vessel(
                chart=charts.get(tank.pk),
                plate_gal=register.value(tank, "compartment_capacity_gallons"),
                devices=_devices(register, parts or register.parts(register.shell(tank))),
                gravity_only=_gravity_only(register, register.shell(tank)),
            )
        )
        site.buckets += [
            Bucket(part.tag, monitored=register.value(part, "both_walls_monitored") is True)
            for part in parts
            if isinstance(part, SpillBucket)
        ]
    return site


def _note_statuses(site: Site, register: _Register, tanks: Sequence[Component], day: date) -> None:
    """Nothing goes into a tank that the register calls closed; one that is out of service is somebody's question."""
    for tank in tanks:
        status = register.status(tank, day) or register.status(register.shell(tank), day)
        if status in CLOSED:
            site.reasons.append(
                f"{tank.tag} is {status} by the register: nothing goes in. Correct its status if that is wrong."
            )
        elif status == Status.TEMPORARILY_OUT:
            site.remarks.append(
                f"{tank.tag} is {status} by the register: put it back into service first, as 40 CFR 280.70 and the "
                "agency ask."
            )


def _tank_faults(register: _Register, tags: Sequence[str], day: date) -> Iterable[Fault]:
    if not tags:
        yield Fault("/tanks", "name at least one tank", "missing")
    for index, tag in enumerate(tags):
        place, row = f"/tanks/{index}/tag", register.by_tag.get(tag)
        if row is None:
            yield Fault(place, f"no component {tag!r} stands at this facility", "unknown")
        elif not isinstance(row, Tank | Compartment):
            detail = f"{tag} is a {row.get_kind_display()}; name tanks or compartments"
            yield Fault(place, detail, "wrong-kind")
        elif row.installed_on is not None and row.installed_on > day:
            detail = f"{tag} was installed on {row.installed_on}; correct that day, or checked_at"
            yield Fault(place, detail, "not-there-yet")
        elif inner := [
            one.tag for one in register.rows if one.parent_id == row.pk and isinstance(one, Compartment)
        ]:
            yield Fault(place, f"{tag} is divided; name its compartment: {', '.join(inner)}", "divided")
        if tag in tags[:index]:
            yield Fault(place, "stands twice; name each tank once", "repeated")


def _bucket_faults(register: _Register, tags: Sequence[str]) -> Iterable[Fault]:
    for index, tag in enumerate(tags):
        place, row = f"/spill_buckets/{index}/tag", register.by_tag.get(tag)
        if row is None:
            yield Fault(place, f"no component {tag!r} stands at this facility", "unknown")
        elif not isinstance(row, SpillBucket):
            yield Fault(place, f"{tag} is a {row.get_kind_display()}; name spill buckets", "wrong-kind")
        if tag in tags[:index]:
            yield Fault(place, "stands twice; name each bucket once", "repeated")


def _joining_faults(register: _Register, tanks: Sequence[Component]) -> Iterable[Fault]:
    """Joined tanks fill as one: the register's flag says that a tank is joined, its system and product with which."""
    if len(tanks) == 1:
        others = _joined_with(register, tanks[0], ())
        if others:
            detail = (
                f"{tanks[0].tag} is joined with {', '.join(others)} (siphon or manifold): they fill as one volume, so "
                "send a reading of each"
            )
            yield Fault("/tanks", detail, "joined")
        return
    for index, tank in enumerate(tanks):
        if register.value(register.shell(tank), "multiple_tanks") is False:
            detail = f"the register says that {tank.tag} is joined with no other tank; check it by itself"
            yield Fault(f"/tanks/{index}/tag", detail, "not-joined")
    missing = _joined_with(register, tanks[0], {tank.tag for tank in tanks})
    if missing:
        yield Fault("/tanks", f"{', '.join(missing)} is joined with them; send its reading too", "joined")


def _joined_with(register: _Register, tank: Component, named: Collection[str]) -> list[str]:
    """Tags of other tanks of the same system and product whose flag says that they are joined, as this one's does."""
    if register.value(register.shell(tank), "multiple_tanks") is not True:
        return []
    mine = register.value(tank, "substance")
    return [
        other.tag
        for other in register.rows
        if isinstance(other, Tank)
        and other.pk != tank.pk
        and other.tag not in named
        and other.parent_id == register.shell(tank).parent_id
        and register.value(other, "multiple_tanks") is True
        and _may_be_same(register.value(other, "substance"), mine)
    ]


def _may_be_same(one: str | None, other: str | None) -> bool:
    return one is None or other is None or one == other


def _joining_remarks(register: _Register, tanks: Sequence[Component]) -> Iterable[str]:
    unsure = [
        tank.tag
        for tank in tanks
        if len(tanks) > 1 and register.value(register.shell(tank), "multiple_tanks") is None
    ]
    if unsure:
        yield (
            f"The register does not say that {', '.join(unsure)} is joined with the others; they were taken as one "
            "volume because they were named together."
        )


def _devices(register: _Register, parts: Iterable[Component]) -> tuple[Device, ...]:
    return tuple(
        Device(
            tag=part.tag,
            type=register.value(part, "overfill_type"),
            set_level_pct=register.value(part, "set_level_pct"),
        )
        for part in parts
        if isinstance(part, OverfillDevice)
    )


def _gravity_only(register: _Register, shell: Component) -> bool | None:
    """Double-walled fibreglass; None where material or walls are not on file."""
    if not isinstance(shell, Tank):
        return None
    material = register.value(shell, "tank_material_description")
    walls = register.value(shell, "tank_secondary_containment")
    if material not in (None, TankMaterial.FRP) or (walls is not None and walls not in WALLS_APART):
        return False
    return None if material is None or walls is None else True

"""Holds one row against the register: adds what is new, and notes where the two differ."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from equipment.models import MODEL_OF_KIND, Component, Facility, Organisation, StatusChange, TankSystem
from equipment.roster.cells import plain
from equipment.roster.elements import COMPARTMENT, FACILITY, PARTS, STATUS, TANK, UNKNOWN
from equipment.roster.mapping import RosterMapping
from equipment.roster.report import Remark, shown
from equipment.roster.translating import StatedStatus, TankRow, Unusable
from equipment.services.register_bulk import check
from equipment.services.roster_sites import Place, Site, Sites
from equipment.vocabulary import Kind, Status


@dataclass(frozen=True)
class Difference:
    """The register says one thing, the roster another. Without `component` and with a part: the part is not on file."""

    site: Site
    part: str
    component: Component | None
    field: str
    ours: Any
    theirs: Any
    column: str

    def remark(self) -> Remark:
        """As the report shows it."""
        reason = f"differs from the register: {self.column or self.part}, ours: {shown(self.ours)}, theirs: "
        return Remark(self.column, shown(self.theirs), f"{reason}{shown(self.theirs)}")


@dataclass
class Placed:
    """What came of holding a row against the register."""

    row: TankRow
    added: bool = False
    remarks: list[Remark] = field(default_factory=list)
    differences: list[Difference] = field(default_factory=list)


class Placement:
    """Places rows one after the other; nothing is written. `as_of` is the day of the roster."""

    def __init__(
        self,
        *,
        mapping: RosterMapping,
        columns: Mapping[str, str],
        operator: Organisation,
        sites: Sites,
        by: str,
        now: datetime,
        as_of: date,
    ) -> None:
        self._mapping = mapping
        self._columns = columns
        self._operator = operator
        self._sites = sites
        self._by = by
        self._now = now
        self._as_of = as_of

    def place(self, row: TankRow) -> Placed:
        """What the row adds and where it differs; `Unusable` when it can be neither added nor compared."""
        placed = Placed(row, remarks=list(row.remarks))
        site = self._site(row)
        if site is None:
            site = self._new_site(row)
        elif not site.is_new and site.facility.pk not in self._sites.may_state:
            raise self._unusable(row, f"{self._operator.name} no longer acts at this facility")
        self._compare(placed, site, FACILITY, None, row.fields[FACILITY])
        fresh: dict[str, Component] = {}
        for part in row.fields:
            if part != FACILITY:
                self._place_part(placed, site, part, fresh)
        for part in row.silent:
            if self._found(site, row, part) is None:
                reason = (
                    f"no {PARTS[part].label} is on file: nothing is stated about one; add it if it is there"
                )
                placed.remarks.append(Remark(self._columns[part], "", reason))
        return placed

    def _site(self, row: TankRow) -> Site | None:
        stated = row.fields[FACILITY].get("facility_state") or self._constants(FACILITY).get("facility_state")
        found = self._sites.of_number(row.facility, state=stated)
        if len(found) > 1:
            raise self._unusable(
                row, "several facilities of the operator carry this number; tell them apart first"
            )
        return found[0] if found else None

    def _new_site(self, row: TankRow) -> Site:
        identity = self._mapping.identity
        code = identity.code_prefix + row.facility
        if self._sites.with_code(code) is not None:
            raise self._unusable(
                row, f"another facility of the operator has the code {code!r}; set code_prefix in the mapping"
            )
        stated = {name: value for name, value in row.fields[FACILITY].items() if value is not None}
        default = {"name": identity.name_when_empty.replace("{facility}", row.facility)}
        facility = Facility(
            operator=self._operator,
            created_at=self._now,
            code=code,
            facility_id=row.facility,
            **(default | self._constants(FACILITY) | stated),
        )
        if faults := check(facility):
            name = faults[0].pointer.removeprefix("/")
            column = self._columns.get(f"{FACILITY}.{name}", "")
            raise Unusable(
                column, shown(getattr(facility, name)), f"the facility cannot be opened: {faults[0].detail}"
            )
        site = Site(facility, is_new=True)
        self._sites.add(site)
        return site

    def _place_part(self, placed: Placed, site: Site, part: str, fresh: dict[str, Component]) -> None:
        row, holder_part = placed.row, placed.row.holder(part)
        holder = self._found(site, row, holder_part)
        known = self._found(site, row, part)
        if known is not None:
            self._compare(placed, site, part, known, row.fields[part])
            self._compare_status(placed, site, part, known)
        elif part in (TANK, COMPARTMENT) or holder_part in fresh:
            parent = holder or self._system(site, row)
            fresh[part] = self._new_component(site, row, part, parent)
            placed.added = True
            if part in row.statuses:
                placed.remarks += self._new_status(site, part, fresh[part], row.statuses[part])
        elif self._first_said(placed, site, (row.tag(part), ""), part, ""):
            column = self._columns.get(part, "")
            difference = Difference(site, part, None, "", "none on file", PARTS[part].label, column)
            placed.differences.append(difference)

    def _found(self, site: Site, row: TankRow, part: str | None) -> Component | None:
        """The part's component: by its tag, else the only one of its kind on the same holder."""
        if part is None:
            return None
        kind = PARTS[part].kind
        known = site.components.get(row.tag(part))
        if known is not None:
            if known.kind != kind:
                raise self._unusable(
                    row, f"the tag {known.tag} is a {known.get_kind_display()} in the register"
                )
            return known
        holder = None if part in (TANK, COMPARTMENT) else self._found(site, row, row.holder(part))
        if holder is None:
            return None
        alike = [
            one
            for one in site.children(holder, kind)
            if all(getattr(one, name) == value for name, value in PARTS[part].fixed.items())
        ]
        return alike[0] if len(alike) == 1 else None

    def _system(self, site: Site, row: TankRow) -> Component:
        """The tank system for a new tank, new itself where the facility has none that fits."""
        one_each = self._mapping.identity.tank_system == "one a tank"
        tag = f"S{row.tank_suffix}" if one_each else "S1"
        systems = site.systems()
        fitting = [one for one in systems if one.tag == tag] or ([] if one_each else systems)
        if fitting:
            return fitting[0]
        if tag in site.components:
            raise self._unusable(
                row, f"the tag {tag} is needed for a tank system and is taken in the register"
            )
        system = TankSystem(facility=site.facility, kind=Kind.TANK_SYSTEM, tag=tag)
        site.add(system)
        return system

    def _new_component(self, site: Site, row: TankRow, part: str, parent: Component) -> Component:
        kind = PARTS[part].kind
        stated = {name: value for name, value in row.fields[part].items() if value is not None}
        tag = row.tag(part)
        if part == TANK and tag.removeprefix(PARTS[TANK].prefix) != row.tank:
            stated.setdefault("label", row.tank)
        component = MODEL_OF_KIND[kind](
            facility=site.facility, kind=kind, tag=tag, parent=parent, **(self._constants(part) | stated)
        )
        if faults := check(component):
            raise self._unusable(
                row, f"{tag} cannot be registered: {faults[0].pointer[1:]}: {faults[0].detail}"
            )
        site.add(component)
        for name, value in stated.items():
            site.said[tag, name] = value, row.number
        return component

    def _new_status(self, site: Site, part: str, component: Component, stated: StatedStatus) -> list[Remark]:
        since = stated.since or self._as_of
        site.add_status(
            StatusChange(
                facility=site.facility,
                component=component,
                effective_on=since,
                status=stated.word,
                recorded_at=self._now,
                recorded_by=self._by,
            )
        )
        site.said[component.tag, STATUS] = stated.word, 0
        if stated.since is not None or stated.word in (Status.IN_USE, UNKNOWN):
            return []
        reason = (
            f"since when is not stated; on file from {since}, the day of the roster, and in use before that"
        )
        return [Remark(self._columns.get(f"{part}.{STATUS}", ""), stated.word, reason)]

    def _compare(
        self, placed: Placed, site: Site, part: str, component: Component | None, stated: Mapping[str, Any]
    ) -> None:
        for name, theirs in stated.items():
            column = self._columns.get(f"{part}.{name}")
            if column is None or _nothing(theirs):
                continue
            tag = component.tag if component else None
            if not self._first_said(placed, site, (tag, name), theirs, column):
                continue
            ours = site.value(component, name)
            if not same(ours, theirs):
                placed.differences.append(Difference(site, part, component, name, ours, theirs, column))

    def _compare_status(self, placed: Placed, site: Site, part: str, component: Component) -> None:
        stated = placed.row.statuses.get(part)
        if stated is None or stated.word == UNKNOWN:
            return
        column = self._columns.get(f"{part}.{STATUS}", "")
        if not self._first_said(placed, site, (component.tag, STATUS), stated.word, column):
            return
        ours = site.status(component)
        if ours != stated.word:
            placed.differences.append(Difference(site, part, component, STATUS, ours, stated.word, column))

    def _first_said(self, placed: Placed, site: Site, place: Place, theirs: Any, column: str) -> bool:
        """Whether this row is the first to say it; a later row that says something else is told so, and not heard."""
        if place not in site.said:
            site.said[place] = theirs, placed.row.number
            return True
        said, number = site.said[place]
        if not same(said, theirs):
            reason = f"contradicts row {number}, which says {shown(said)}; the first one counts"
            placed.remarks.append(Remark(column, shown(theirs), reason))
        return False

    def _constants(self, part: str) -> dict[str, Any]:
        return self._mapping.constants.get(part, {})

    def _unusable(self, row: TankRow, reason: str) -> Unusable:
        return Unusable(self._mapping.identity.facility, row.facility, reason)


def same(ours: Any, theirs: Any) -> bool:
    """Equal as facts: lists in any order, texts in any case of letters, days as stored in dated changes."""
    if isinstance(ours, list) and isinstance(theirs, list):
        return set(ours) == set(theirs)
    if isinstance(theirs, date):
        return str(ours) == str(theirs)
    if isinstance(ours, str) and isinstance(theirs, str):
        return plain(ours) == plain(theirs)
    return bool(ours == theirs)


def _nothing(value: Any) -> bool:
    """Unknown contradicts nothing that is known."""
    return value in (None, UNKNOWN, [UNKNOWN])

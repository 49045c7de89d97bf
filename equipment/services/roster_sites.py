"""What the register says about the facilities of one batch of rows, and what the batch adds to it."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from equipment.models import Component, Facility, Organisation, StatusChange
from equipment.queries import components_of, field_changes_of, status_changes_of
from equipment.services.register_bulk import lock_facilities
from equipment.tenancy import grants_in_force
from equipment.vocabulary import AccessRole, Kind, Status

Place = tuple[str | None, str]  # tag (None: the facility itself) and field


@dataclass
class Site:
    """One facility: on file, or new with this batch. Values are those that hold now, dated changes included."""

    facility: Facility
    is_new: bool = False
    components: dict[str, Component] = field(default_factory=dict)
    dated: dict[Place, tuple[Any, date]] = field(default_factory=dict)
    statuses: dict[str | None, tuple[str, date]] = field(default_factory=dict)
    added: list[Component] = field(default_factory=list)
    added_statuses: list[StatusChange] = field(default_factory=list)
    by_pk: dict[int, Component] = field(default_factory=dict)
    # What a row of this batch said, and which: the first one counts.
    said: dict[Place, tuple[Any, int]] = field(default_factory=dict)

    def value(self, component: Component | None, name: str) -> Any:
        """The present value of a field; None is unknown."""
        tag = component.tag if component else None
        if (tag, name) in self.dated:
            return self.dated[tag, name][0]
        return getattr(component or self.facility, name)

    def status(self, component: Component | None) -> str:
        """The status that reaches the component: its own, else that of the nearest parent that has one."""
        seen: Component | None = component
        while seen is not None:
            if seen.tag in self.statuses:
                return self.statuses[seen.tag][0]
            seen = self._parent(seen)
        return self.statuses[None][0] if None in self.statuses else Status.IN_USE

    def children(self, holder: Component, kind: str) -> list[Component]:
        """Components of the kind that hang directly on this one."""
        return [one for one in self.components.values() if one.kind == kind and self._parent(one) is holder]

    def systems(self) -> list[Component]:
        """Tank systems on file or new."""
        return [one for one in self.components.values() if one.kind == Kind.TANK_SYSTEM]

    def add(self, component: Component) -> None:
        """Note a component that is not on file yet."""
        self.components[component.tag] = component
        self.added.append(component)

    def add_status(self, change: StatusChange) -> None:
        """Note a status of a component that is not on file yet."""
        self.statuses[change.component.tag if change.component else None] = change.status, change.effective_on
        self.added_statuses.append(change)

    def _parent(self, component: Component) -> Component | None:
        if component.parent_id is None:
            return component.parent
        return self.by_pk.get(component.parent_id)


class Sites:
    """Facilities of the operator that carry one of these numbers of a state's register, locked for the transaction."""

    def __init__(
        self, operator: Organisation, numbers: Collection[str], codes: Collection[str], *, now: datetime
    ) -> None:
        theirs = Facility.objects.filter(operator=operator)
        found = theirs.filter(facility_id__in=numbers) | theirs.filter(code__in=codes)
        facilities = lock_facilities(list(found.values_list("pk", flat=True)))
        ids = [facility.pk for facility in facilities]
        grants = grants_in_force(now=now).filter(
            organisation=operator, facility__in=ids, role=AccessRole.OPERATOR
        )
        self.may_state = set(grants.values_list("facility_id", flat=True))
        self._by_code = {facility.code: facility for facility in facilities}
        self._by_number: dict[str, list[Site]] = {}
        if not ids:
            return
        components, statuses, changes = components_of(ids), status_changes_of(ids), field_changes_of(ids)
        for facility in facilities:
            own = components.get(facility.pk, ())
            site = Site(
                facility, components={one.tag: one for one in own}, by_pk={one.pk: one for one in own}
            )
            for status in statuses.get(facility.pk, ()):
                tag = status.component.tag if status.component else None
                site.statuses[tag] = status.status, status.effective_on
            for change in changes.get(facility.pk, ()):
                tag = site.by_pk[change.component_id].tag if change.component_id else None
                site.dated[tag, change.field] = change.value, change.effective_on
            if facility.facility_id is not None:
                self._by_number.setdefault(facility.facility_id, []).append(site)

    def of_number(self, number: str, *, state: str | None) -> list[Site]:
        """Sites with this number; the same number of another state is another site."""
        return [
            site
            for site in self._by_number.get(number, ())
            if state is None or site.facility.facility_state in (None, state)
        ]

    def with_code(self, code: str) -> Facility | None:
        """The facility that has this code, whatever its number."""
        return self._by_code.get(code)

    def add(self, site: Site) -> None:
        """Note a new facility."""
        self._by_number.setdefault(str(site.facility.facility_id), []).append(site)
        self._by_code[site.facility.code] = site.facility

    def __iter__(self) -> Iterator[Site]:
        return (site for sites in self._by_number.values() for site in sites)

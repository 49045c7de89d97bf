"""Which organisations may be told about a facility, and which may answer for it."""

from collections.abc import Collection
from datetime import datetime

from alarms.reach import Grant
from equipment.models import Facility, FacilityAccess
from equipment.tenancy import Right, grants_in_force, roles_with


def organisations_holding(right: Right, facility: Facility, *, now: datetime) -> frozenset[int]:
    """Ids of the organisations that hold the right at the facility now."""
    grants = grants_in_force(now=now).filter(facility=facility, role__in=roles_with(right))
    return frozenset(grants.values_list("organisation", flat=True))


def grants_of(facility: Facility, *, right: Right) -> tuple[Grant, ...]:
    """Every organisation that holds, held or will hold the right at the facility, and from when until when."""
    rows = FacilityAccess.objects.filter(facility=facility, role__in=roles_with(right)).order_by("pk")
    return tuple(
        Grant(organisation=row.organisation_id, starts_at=row.starts_at, ends_at=row.ends_at) for row in rows
    )


def facilities_open_to(
    organisation_id: int, right: Right, facility_ids: Collection[int], *, now: datetime
) -> frozenset[int]:
    """Those of the facilities at which the organisation holds the right now."""
    grants = grants_in_force(now=now).filter(organisation=organisation_id, role__in=roles_with(right))
    return frozenset(grants.filter(facility__in=facility_ids).values_list("facility_id", flat=True))


def open_to_all(
    right: Right, *, now: datetime, facility_ids: Collection[int] | None = None
) -> frozenset[tuple[int, int]]:
    """Every facility (of these, None: of all) and organisation that holds the right there now."""
    grants = grants_in_force(now=now).filter(role__in=roles_with(right))
    if facility_ids is not None:
        grants = grants.filter(facility__in=facility_ids)
    return frozenset(grants.values_list("facility_id", "organisation_id"))

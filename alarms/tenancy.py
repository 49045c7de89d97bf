"""Which organisations may be told about a facility, and which may answer for it."""

from datetime import datetime

from equipment.models import Facility
from equipment.tenancy import RIGHTS_OF_ROLE, Right, grants_in_force


def organisations_holding(right: Right, facility: Facility, *, now: datetime) -> frozenset[int]:
    """Ids of the organisations that hold the right at the facility now."""
    roles = [role for role, rights in RIGHTS_OF_ROLE.items() if right in rights]
    grants = grants_in_force(now=now).filter(facility=facility, role__in=roles)
    return frozenset(grants.values_list("organisation", flat=True))

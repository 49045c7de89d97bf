"""Puts an agency's decision on file if it fits a rule: one that fits none would keep the facility from being judged."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from compliance.rulepacks import installed_packs
from compliance.rules.compiling import GrammarError
from equipment.faults import Fault, refuse
from equipment.models import AgencyOverride, Facility, Organisation
from equipment.services import papers


def state_agency_override(
    *,
    facility: Facility,
    submitted_by: Organisation,
    by: str,
    now: datetime,
    component: str | None,
    document: int,
    params: Mapping[str, Any],
    fields: Mapping[str, Any],
) -> AgencyOverride:
    """As the service of the same name below, for a rule that is loaded and parameters that it has."""
    packs = installed_packs()
    rule: str = fields["rule"]
    if rule not in {entry.table.id for entry in packs.rules}:
        refuse([Fault("/rule", f"no rule has the id {rule!r}; GET /api/v1/rules", "unknown")])
    try:
        packs.with_params(rule, tuple(facility.jurisdictions), params)
    except GrammarError as error:
        refuse([Fault("/params", error.detail, "invalid")])
    return papers.state_agency_override(
        facility=facility,
        submitted_by=submitted_by,
        by=by,
        now=now,
        component=component,
        document=document,
        params=params,
        fields=fields,
    )

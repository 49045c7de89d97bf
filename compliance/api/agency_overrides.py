"""Addresses of agencies' decisions: as every fact of a facility, but held against the loaded rules when stated."""

from dataclasses import replace

from compliance.services.overrides import state_agency_override
from equipment.api.fact_resources import OVERRIDES
from equipment.api.fact_routes import routes_of

OVERRIDE_ROUTES = list(routes_of(replace(OVERRIDES, state=state_agency_override)))

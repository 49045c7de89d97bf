"""Addresses of confirmed releases: as every fact of a facility, but held against its alarms when stated."""

from dataclasses import replace

from alarms.services.releases import state_release
from equipment.api.fact_resources import RELEASES
from equipment.api.fact_routes import routes_of

RELEASE_ROUTES = list(routes_of(replace(RELEASES, state=state_release)))

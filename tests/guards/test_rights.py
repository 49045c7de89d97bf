"""Who may do what, asked at every address that writes: a route that declares too small a right is found here.

The rights of roles are common practice, no source.
"""

from typing import Any

import pytest

from equipment.vocabulary import AccessRole, KeyRole
from tests import world
from tests.conftest import client_of
from tests.guards.knocking import WRITINGS, knock
from tests.guards.routes import Route

# Writes nothing: what the rules would say of a site that the caller describes.
COMPUTES = {"api/v1/judgements"}
# What a gateway is let in for.
SIGNALS = {"api/v1/facilities/<int:facility_id>/events", "api/v1/facilities/<int:facility_id>/events/file"}
# Parts of an address that lie at a facility; the others are about the caller's own organisation.
AT_A_FACILITY = {"facility_id", "alarm_id", "attachment_id"}
HEADERS = {"Idempotency-Key": "knock", "If-Match": "*"}


def answers(client, writings: list[tuple[Route, str]], ids: dict[str, Any]) -> dict[str, int]:
    """The status that each operation answers to a body that it would take."""
    return {
        f"{verb} {route}": knock(client, route, verb, ids, HEADERS).status_code for route, verb in writings
    }


def test_whoever_only_reads_writes_nothing(ids, owner):
    reader = client_of(owner, KeyRole.READER)
    writings = [one for one in WRITINGS if one[0].template not in COMPUTES]

    statuses = answers(reader, writings, ids)

    assert {name: status for name, status in statuses.items() if status != 403} == {}


@pytest.mark.parametrize("role", [AccessRole.GATEWAY, AccessRole.AGENCY])
def test_whoever_is_let_in_to_signal_or_to_look_writes_nothing_else(
    role, ids, own, stranger, stranger_client
):
    world.grant(stranger, own, role)
    allowed = SIGNALS if role == AccessRole.GATEWAY else set()
    writings = [
        one for one in WRITINGS if one[0].parameters & AT_A_FACILITY and one[0].template not in allowed
    ]

    statuses = answers(stranger_client, writings, ids)

    assert {name: status for name, status in statuses.items() if status != 403} == {}


def test_a_gateway_delivers_events(ids, own, stranger, stranger_client):
    world.grant(stranger, own, AccessRole.GATEWAY)
    writings = [one for one in WRITINGS if one[0].template in SIGNALS]

    statuses = answers(stranger_client, writings, ids)

    assert len(statuses) == len(SIGNALS)
    assert not {403, 404} & set(statuses.values())

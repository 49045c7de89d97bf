"""Fixtures that every part of the tests shares."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from rest_framework.test import APIClient

from equipment.models import Facility, Organisation
from equipment.vocabulary import KeyRole, OrganisationKind
from tests import world

# How long an example takes says how busy the machine is, not whether the code is right: speed is for the benchmarks.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")


@pytest.fixture(autouse=True)
def plain_http(settings) -> None:
    """Test clients speak HTTP; what TLS adds is checked where settings are (tests/compliance/config)."""
    settings.SECURE_SSL_REDIRECT = False


@pytest.fixture
def attachment_folder(settings, tmp_path) -> Path:
    """A folder of its own for the files that a test attaches."""
    settings.MEDIA_ROOT = tmp_path / "attachments"
    return settings.MEDIA_ROOT


@pytest.fixture
def owner(db) -> Organisation:
    return world.organisation("Own Marinas")


@pytest.fixture
def contractor(db) -> Organisation:
    return world.organisation("Granted Service", OrganisationKind.CONTRACTOR)


@pytest.fixture
def stranger(db) -> Organisation:
    return world.organisation("Strange Marinas")


@pytest.fixture
def own(owner, contractor) -> Facility:
    """The owner's facility, where the contractor was let in."""
    facility = world.facility(owner, "OWN")
    world.grant(contractor, facility)
    return facility


@pytest.fixture
def foreign(stranger) -> Facility:
    """A facility that is none of the owner's business."""
    return world.facility(stranger, "FOREIGN")


def client_of(organisation: Organisation, role: str = KeyRole.MANAGER) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {world.key(organisation, role)}")
    return client


@pytest.fixture
def owner_client(owner) -> APIClient:
    return client_of(owner)


@pytest.fixture
def contractor_client(contractor) -> APIClient:
    return client_of(contractor)


@pytest.fixture
def stranger_client(stranger) -> APIClient:
    return client_of(stranger)

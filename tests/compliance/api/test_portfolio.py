"""The portfolio: every facility once, worst first, however many are alike."""

import pytest

from compliance.models import Standing
from compliance.services import assess
from equipment.models import Facility, FacilityAccess
from tests import world
from tests.world import NOW

# More than the thousand rows at which an offset cursor stops moving.
MANY = 1_300


@pytest.fixture
def many(owner) -> None:
    """Facilities that stand exactly alike."""
    Facility.objects.bulk_create(
        Facility(operator=owner, code=f"F{number}", name="Alike", time_zone="UTC", created_at=NOW)
        for number in range(MANY)
    )
    FacilityAccess.objects.bulk_create(
        FacilityAccess(organisation=owner, facility=one, role="operator", starts_at=NOW, granted_by="test")
        for one in Facility.objects.filter(operator=owner)
    )
    assess.open_standings(Facility.objects.all())


def test_every_facility_is_shown_once_even_when_all_stand_alike(many, owner_client):
    address, seen = "/api/v1/portfolio?limit=200", []

    while address and len(seen) <= 2 * MANY:
        page = owner_client.get(address).json()
        seen += [row["facility"] for row in page["results"]]
        address = page["next"]

    assert len(seen) == len(set(seen)) == MANY


def test_a_facility_that_nobody_has_judged_yet_is_shown_as_such(own, owner_client):
    row = owner_client.get(f"/api/v1/facilities/{own.pk}/standing").json()

    assert (row["worst"], row["fresh"], row["judged_at"]) == (None, False, None)


def test_a_facility_is_not_fresh_under_other_rules(own, owner_client):
    world.line(own)
    assess.drain(clock=lambda: NOW)
    Standing.objects.update(packs_digest="of an older release", changes_at=None)

    assert owner_client.get(f"/api/v1/facilities/{own.pk}/standing").json()["fresh"] is False

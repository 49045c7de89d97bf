"""Facilities that a long import holds: whatever only refers to one of them does not wait for its end."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import OperationalError, connection, transaction

from equipment.models import Facility
from equipment.services.facts import lock_facility
from equipment.services.register_bulk import lock_facilities
from tests import world

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        "connection.vendor != 'postgresql'", reason="SQLite has one writer, whatever is locked"
    ),
]


def in_another_session(work) -> object:
    """What the work answers, which gives up waiting for a lock after half a second."""

    def session() -> object:
        try:
            with transaction.atomic(), connection.cursor() as cursor:
                cursor.execute("SET LOCAL lock_timeout = '500ms'")
                return work()
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        return pool.submit(session).result()


@pytest.fixture
def held(owner):
    """A facility that an import holds to the end of its transaction."""
    site = world.facility(owner, "HELD")
    with transaction.atomic():
        assert lock_facilities([site.pk]) == [site]
        yield site


def test_a_row_that_refers_to_the_facility_is_written_meanwhile(held: Facility):
    grant = in_another_session(lambda: world.grant(world.organisation("Test Services"), held))

    assert grant.facility_id == held.pk


def test_whoever_changes_the_facilitys_facts_waits(held: Facility):
    with pytest.raises(OperationalError):
        in_another_session(lambda: lock_facility(held.pk))

"""An index on a large table: on PostgreSQL nobody who writes waits while it is built."""

from importlib import import_module

import pytest
from django.db import connection, models
from django.db.migrations.state import ProjectState

from equipment.online_indexes import AddIndexOnline

INDEX = models.Index(fields=["facility", "received_at"], name="event_tried")


def statements(way: str) -> list[str]:
    """What the operation sends, forwards or backwards; nothing is executed."""
    operation = AddIndexOnline(model_name="event", index=INDEX)
    without = ProjectState.from_apps(import_module("django.apps").apps)
    indexed = without.clone()
    operation.state_forwards("alarms", indexed)
    before, after = (without, indexed) if way == "forwards" else (indexed, without)
    with connection.schema_editor(collect_sql=True, atomic=False) as editor:
        getattr(operation, f"database_{way}")("alarms", editor, before, after)
        return [one for one in editor.collected_sql if "event_tried" in one]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("way", ["forwards", "backwards"])
def test_no_writer_waits_for_it_on_postgresql(way):
    found = statements(way)

    on_postgresql = connection.vendor == "postgresql"
    assert found
    assert all(("CONCURRENTLY" in one) == on_postgresql for one in found)


@pytest.mark.django_db(transaction=True)
def test_what_a_broken_off_attempt_left_is_dropped_first():
    verbs = [one.split()[0] for one in statements("forwards")]

    assert verbs == (["DROP", "CREATE"] if connection.vendor == "postgresql" else ["CREATE"])


def test_the_indexes_of_turns_are_built_that_way_and_outside_a_transaction():
    migration = import_module("alarms.migrations.0021_indexes_of_turns").Migration
    added = [one for one in migration.operations if hasattr(one, "index")]

    assert not migration.atomic
    assert len(added) == 3
    assert all(isinstance(one, AddIndexOnline) for one in added)

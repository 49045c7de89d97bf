"""A database of a run's own beside the configured one, made and dropped as pytest-django does it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

import django


@contextmanager
def scratch_database() -> Iterator[None]:
    """Django set up, and connected to `test_...` while the block runs."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "compliance.config.settings")
    django.setup()
    from django.db import connection

    name = str(connection.settings_dict["NAME"])
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)

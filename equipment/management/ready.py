"""Stops a command with a sentence where it would stop with a traceback."""

from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


def require_migrated() -> None:
    """The database has the tables that this version of the code expects."""
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise CommandError("The database is not up to date. Run this first: uv run manage.py migrate")

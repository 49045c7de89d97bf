"""Indexes on tables that are large: built while the service goes on writing."""

from typing import Any

from django.db.migrations import AddIndex


class AddIndexOnline(AddIndex):
    """As `AddIndex`, but on PostgreSQL no writer waits for it; its migration says `atomic = False`.

    An attempt that was broken off leaves an index that answers nothing; it is dropped before the next one. SQLite has
    one writer and no such way, so there it is the plain operation.
    """

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Build it, from nothing."""
        model = to_state.apps.get_model(app_label, self.model_name)
        if not self.allow_migrate_model(schema_editor.connection.alias, model):
            return
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP INDEX CONCURRENTLY IF EXISTS {_quoted(schema_editor, self.index)}")
            schema_editor.add_index(model, self.index, concurrently=True)
        else:
            schema_editor.add_index(model, self.index)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        """Drop it, waiting for nobody either."""
        model = from_state.apps.get_model(app_label, self.model_name)
        if not self.allow_migrate_model(schema_editor.connection.alias, model):
            return
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.remove_index(model, self.index, concurrently=True)
        else:
            schema_editor.remove_index(model, self.index)


def _quoted(schema_editor: Any, index: Any) -> str:
    return str(schema_editor.quote_name(index.name))

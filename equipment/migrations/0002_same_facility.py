"""The database itself refuses a part, change or record that reaches into another facility.

A check constraint sees one row only, so triggers compare the two facilities. On PostgreSQL the same words run as one
function a table. A later migration that rebuilds one of these tables on SQLite drops its triggers: run `install` again
there (tests/equipment/test_constraints.py fails otherwise).
"""

from django.db import migrations

# table, column that points, table that holds the facility of what is pointed at, facility of the pointing row
LINKS = [
    ("equipment_component", "parent_id", "equipment_component", "NEW.facility_id"),
    ("equipment_component", "replaces_id", "equipment_component", "NEW.facility_id"),
    ("equipment_statuschange", "component_id", "equipment_component", "NEW.facility_id"),
    ("equipment_fieldchange", "component_id", "equipment_component", "NEW.facility_id"),
    ("equipment_record", "supersedes_id", "equipment_record", "NEW.facility_id"),
    (
        "equipment_recordsubject",
        "component_id",
        "equipment_component",
        "(SELECT facility_id FROM equipment_record WHERE id = NEW.record_id)",
    ),
]


def _name(table, column):
    return f"same_facility_{table.removeprefix('equipment_')}_{column.removesuffix('_id')}"


def _foreign(column, target, own):
    return f"(SELECT facility_id FROM {target} WHERE id = NEW.{column}) <> {own}"


def _sqlite(table, column, target, own):
    name = _name(table, column)
    moving = ", facility_id" if own == "NEW.facility_id" else ""
    for moment, when in (("INSERT", "insert"), (f"UPDATE OF {column}{moving}", "update")):
        yield (
            f"CREATE TRIGGER {name}_{when} BEFORE {moment} ON {table} WHEN NEW.{column} IS NOT NULL "
            f"AND {_foreign(column, target, own)} BEGIN SELECT RAISE(ABORT, '{name}'); END"
        )


def _postgresql(table, column, target, own):
    name = _name(table, column)
    yield (
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF NEW.{column} IS NOT NULL AND {_foreign(column, target, own)} THEN "
        f"RAISE EXCEPTION '{name}' USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$"
    )
    yield (
        f"CREATE TRIGGER {name} BEFORE INSERT OR UPDATE OF {column}, facility_id ON {table} "
        if own == "NEW.facility_id"
        else f"CREATE TRIGGER {name} BEFORE INSERT OR UPDATE OF {column} ON {table} "
    ) + f"FOR EACH ROW EXECUTE FUNCTION {name}()"


def install_links(schema_editor, links):
    statements = {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor]
    for link in links:
        for statement in statements(*link):
            schema_editor.execute(statement, params=None)


def remove_links(schema_editor, links):
    for table, column, _target, _own in links:
        name = _name(table, column)
        if schema_editor.connection.vendor == "sqlite":
            for when in ("insert", "update"):
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}_{when}", params=None)
        else:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}", params=None)
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {name}()", params=None)


def install(apps, schema_editor):
    install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):
    dependencies = [("equipment", "0001_register")]

    operations = [migrations.RunPython(install, remove)]

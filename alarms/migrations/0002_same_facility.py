"""The database itself refuses an alarm, event or notice that reaches into another facility.

By the triggers of the register (equipment 0002): a check constraint sees one row only. A later migration that rebuilds
one of these tables on SQLite drops its triggers: run `install` again there (tests/alarms/test_constraints.py fails
otherwise).
"""

from importlib import import_module

from django.db import migrations

# table, column that points, table that holds the facility of what is pointed at, facility of the pointing row
LINKS = [
    ("alarms_alarm", "component_id", "equipment_component", "NEW.facility_id"),
    ("alarms_event", "component_id", "equipment_component", "NEW.facility_id"),
    ("alarms_event", "alarm_id", "alarms_alarm", "NEW.facility_id"),
    ("alarms_event", "conflicts_with_id", "alarms_event", "NEW.facility_id"),
    ("alarms_notice", "alarm_id", "alarms_alarm", "NEW.facility_id"),
]


def install(apps, schema_editor):
    register = import_module("equipment.migrations.0002_same_facility")
    statements = {"sqlite": register._sqlite, "postgresql": register._postgresql}[schema_editor.connection.vendor]
    for link in LINKS:
        for statement in statements(*link):
            schema_editor.execute(statement, params=None)


def remove(apps, schema_editor):
    register = import_module("equipment.migrations.0002_same_facility")
    for table, column, _target, _own in LINKS:
        name = register._name(table, column)
        if schema_editor.connection.vendor == "sqlite":
            for when in ("insert", "update"):
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {name}_{when}", params=None)
        else:
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {name} ON {table}", params=None)
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0001_alarms"), ("equipment", "0002_same_facility")]

    operations = [migrations.RunPython(install, remove)]

"""No function check reaches into another facility: as 0002 of this app."""

from importlib import import_module

from django.db import migrations

OWN = "(SELECT facility_id FROM alarms_exercise WHERE id = NEW.exercise_id)"
LINKS = [
    ("alarms_exercisesensor", "component_id", "equipment_component", OWN),
    ("alarms_exercisesensor", "record_id", "equipment_record", OWN),
]


def install(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0011_function_checks")]

    operations = [migrations.RunPython(install, remove)]

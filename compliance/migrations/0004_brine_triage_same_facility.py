"""No look at a liquid-filled space stands beside an alarm of another facility: as 0002 of `equipment`."""

from importlib import import_module

from django.db import migrations

LINKS = [("compliance_brinetriage", "alarm_id", "alarms_alarm", "NEW.facility_id")]


def install(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):
    dependencies = [("compliance", "0003_brine_triage")]

    operations = [migrations.RunPython(install, remove)]

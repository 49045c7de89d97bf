"""No answer to an alarm, and nothing stated about one, reaches into another facility: as 0002 of this app."""

from importlib import import_module

from django.db import migrations

LINKS = [
    ("alarms_disposition", "alarm_id", "alarms_alarm", "NEW.facility_id"),
    ("alarms_disposition", "record_id", "equipment_record", "NEW.facility_id"),
    ("alarms_disposition", "second_month_id", "equipment_record", "NEW.facility_id"),
    ("alarms_disposition", "delivery_id", "equipment_delivery", "NEW.facility_id"),
    ("alarms_disposition", "release_id", "equipment_release", "NEW.facility_id"),
    ("alarms_alarmknowledge", "alarm_id", "alarms_alarm", "NEW.facility_id"),
]


def install(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0004_dispositions")]

    operations = [migrations.RunPython(install, remove)]

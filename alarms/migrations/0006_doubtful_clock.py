"""Says of an event whose device clock cannot be believed that its alarm is timed by the receipt.

SQLite rebuilds the table for it, which drops the triggers of 0002: they are put back.
"""

from importlib import import_module

from django.db import migrations, models


def put_triggers_back(apps, schema_editor):
    register = import_module("equipment.migrations.0002_same_facility")
    links = import_module("alarms.migrations.0002_same_facility").LINKS
    of_events = [link for link in links if link[0] == "alarms_event"]
    register.remove_links(schema_editor, of_events)
    register.install_links(schema_editor, of_events)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0005_dispositions_same_facility")]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.AddField(
            model_name="event",
            name="clock_doubtful",
            field=models.BooleanField(
                default=False, help_text="that clock cannot be believed: its alarm is timed by the receipt"
            ),
        ),
        migrations.AlterField(
            model_name="event",
            name="occurred_at",
            field=models.DateTimeField(help_text="by the device's clock, as it was sent"),
        ),
        migrations.RunPython(put_triggers_back, migrations.RunPython.noop),
    ]

"""Two organisations may use the same id of an event, and a raise that contradicts an earlier message moves its alarm.

SQLite rebuilds the table for it, which drops the triggers of 0002: they are put back, as in 0006.
"""

from importlib import import_module

from django.db import migrations, models
from django.db.models import Q


def put_triggers_back(apps, schema_editor):
    import_module("alarms.migrations.0006_doubtful_clock").put_triggers_back(apps, schema_editor)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0007_clock_of_the_law")]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.RemoveConstraint(model_name="event", name="event_stands_once"),
        migrations.AddConstraint(
            model_name="event",
            constraint=models.UniqueConstraint(
                condition=Q(conflicts_with=None),
                fields=("facility", "received_from", "source", "source_event_id"),
                name="event_stands_once",
            ),
        ),
        migrations.RemoveConstraint(model_name="event", name="conflicting_event_moves_no_alarm"),
        migrations.AddConstraint(
            model_name="event",
            constraint=models.CheckConstraint(
                condition=Q(conflicts_with=None) | Q(alarm=None) | Q(signal="raised"),
                name="conflicting_clear_moves_no_alarm",
            ),
        ),
        migrations.RunPython(put_triggers_back, migrations.RunPython.noop),
    ]

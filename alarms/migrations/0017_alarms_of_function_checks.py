"""Links an alarm to the function check that raised it. SQLite rebuilds the table of alarms for it: as 0014."""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

LINKS = [("alarms_alarm", "exercise_id", "alarms_exercise", "NEW.facility_id")]


def look_away(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").look_away(apps, schema_editor)


def look_again(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").look_again(apps, schema_editor)


def put_triggers_back(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").put_triggers_back(apps, schema_editor)


def install(apps, schema_editor):
    put_triggers_back(apps, schema_editor)
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, LINKS)


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, LINKS)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0016_turns_required"), ("equipment", "0011_delivery_names_its_check")]

    operations = [
        migrations.RunPython(look_away, look_again),
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.AddField(
            model_name="alarm",
            name="exercise",
            field=models.ForeignKey(
                blank=True,
                help_text="the function check that raised it",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="alarms",
                to="alarms.exercise",
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="stood_on_at",
            field=models.DateTimeField(
                blank=True, help_text="when it turned out to be no exercise but real", null=True
            ),
        ),
        migrations.AddField(
            model_name="exercisesensor",
            name="heard_through",
            field=models.PositiveBigIntegerField(
                blank=True, help_text="number of the latest message of it that was on file", null=True
            ),
        ),
        migrations.AddIndex(
            model_name="exercise",
            index=models.Index(fields=["closed_at"], name="exercise_by_closing"),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(("stood_on_at", None), ("exercise__isnull", False), _connector="OR"),
                name="only_an_exercise_stands_on",
            ),
        ),
        migrations.RunPython(install, remove),
        migrations.RunPython(look_again, look_away),
    ]

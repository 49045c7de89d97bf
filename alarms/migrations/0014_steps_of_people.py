"""Keeps the steps that people take with an alarm, and makes room for what an alarm becomes by them.

SQLite rebuilds the table of alarms for it, which drops the triggers of 0002: they are put back, with those of the new
links. Triggers of other tables name that table, which is not there for a moment while it is rebuilt: SQLite must not
look at them then.
"""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

LINKS = [
    ("alarms_alarm", "component_id", "equipment_component", "NEW.facility_id"),
    ("alarms_alarm", "merged_into_id", "alarms_alarm", "NEW.facility_id"),
]
STEPS = [
    ("alarms_alarmstep", "alarm_id", "alarms_alarm", "NEW.facility_id"),
    ("alarms_alarmstep", "record_id", "equipment_record", "NEW.facility_id"),
]


def look_away(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("PRAGMA legacy_alter_table = ON", params=None)


def look_again(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("PRAGMA legacy_alter_table = OFF", params=None)


def put_triggers_back(apps, schema_editor):
    register = import_module("equipment.migrations.0002_same_facility")
    register.remove_links(schema_editor, LINKS)
    register.install_links(schema_editor, LINKS)


def put_first_trigger_back(apps, schema_editor):
    register = import_module("equipment.migrations.0002_same_facility")
    register.remove_links(schema_editor, LINKS[:1])
    register.install_links(schema_editor, LINKS[:1])


def install(apps, schema_editor):
    put_triggers_back(apps, schema_editor)
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, STEPS)


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, LINKS + STEPS)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0013_answers_of_every_class"), ("equipment", "0011_delivery_names_its_check")]

    operations = [
        migrations.RunPython(look_away, look_again),
        migrations.RunPython(migrations.RunPython.noop, put_first_trigger_back),
        migrations.CreateModel(
            name="AlarmStep",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("acknowledge", "acknowledge"),
                            ("reset", "reset"),
                            ("shelve", "shelve"),
                            ("end shelving", "end shelving"),
                            ("take out of service", "take out of service"),
                            ("return to service", "return to service"),
                        ],
                        max_length=30,
                    ),
                ),
                ("at", models.DateTimeField(help_text="when it was taken")),
                (
                    "through",
                    models.DateTimeField(help_text="the moment at which it counts among the messages"),
                ),
                ("by", models.CharField(max_length=200)),
                (
                    "note",
                    models.CharField(
                        blank=True, help_text="what is being done, or why", max_length=2000, null=True
                    ),
                ),
                ("until", models.DateTimeField(blank=True, help_text="the end of shelving", null=True)),
            ],
        ),
        migrations.AddField(
            model_name="alarmstep",
            name="alarm",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="steps", to="alarms.alarm"
            ),
        ),
        migrations.AddField(
            model_name="alarmstep",
            name="facility",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="equipment.facility"
            ),
        ),
        migrations.AddField(
            model_name="alarmstep",
            name="record",
            field=models.ForeignKey(
                blank=True,
                help_text="the repair",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="equipment.record",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarmstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "kind__in",
                        [
                            "acknowledge",
                            "reset",
                            "shelve",
                            "end shelving",
                            "take out of service",
                            "return to service",
                        ],
                    )
                ),
                name="alarm_step_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarmstep",
            constraint=models.CheckConstraint(
                condition=models.Q(("through__gte", models.F("at"))), name="alarm_step_counts_once_taken"
            ),
        ),
        migrations.AddConstraint(
            model_name="alarmstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind__in", ["reset", "shelve", "take out of service"]), _negated=True),
                    models.Q(("note", None), _negated=True),
                    _connector="OR",
                ),
                name="alarm_step_has_its_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarmstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "shelve"), ("until__gt", models.F("at")), ("until__isnull", False)),
                    models.Q(models.Q(("kind", "shelve"), _negated=True), ("until", None)),
                    _connector="OR",
                ),
                name="shelving_has_its_end",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarmstep",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "return to service"), ("record__isnull", False)),
                    models.Q(models.Q(("kind", "return to service"), _negated=True), ("record", None)),
                    _connector="OR",
                ),
                name="return_to_service_has_its_repair",
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="call_round",
            field=models.PositiveIntegerField(
                default=1, help_text="how often the call list was begun for it; more than 1: it came back"
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="called_from",
            field=models.DateTimeField(
                null=True, help_text="calls are timed from here: its opening, or its coming back"
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="ended_at",
            field=models.DateTimeField(blank=True, help_text="when it was over and answered for", null=True),
        ),
        migrations.AddField(
            model_name="alarm",
            name="last_turn_at",
            field=models.DateTimeField(null=True, help_text="the latest signal or step that counts in it"),
        ),
        migrations.AddField(
            model_name="alarm",
            name="merged_at",
            field=models.DateTimeField(blank=True, help_text="when that became known", null=True),
        ),
        migrations.AddField(
            model_name="alarm",
            name="merged_into",
            field=models.ForeignKey(
                blank=True,
                help_text="they were one alarm",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="merged",
                to="alarms.alarm",
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="shelved_until",
            field=models.DateTimeField(blank=True, help_text="it comes back by itself then", null=True),
        ),
        migrations.AlterField(
            model_name="alarm",
            name="opened_at",
            field=models.DateTimeField(help_text="when it reached us"),
        ),
        migrations.AlterField(
            model_name="alarm",
            name="state",
            field=models.CharField(
                choices=[
                    ("normal", "normal"),
                    ("unacknowledged", "unacknowledged"),
                    ("acknowledged", "acknowledged"),
                    ("returned-unacknowledged", "returned-unacknowledged"),
                    ("latched-unacknowledged", "latched-unacknowledged"),
                    ("latched-acknowledged", "latched-acknowledged"),
                    ("shelved", "shelved"),
                    ("out of service", "out of service"),
                ],
                max_length=30,
            ),
        ),
        migrations.RunPython(install, remove),
        migrations.RunPython(look_again, look_away),
    ]

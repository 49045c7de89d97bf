"""What was filled in by 0015 is required from now on.

SQLite rebuilds the table of alarms for it, which drops its triggers: they are put back.
"""

from importlib import import_module

from django.db import migrations, models


def look_away(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").look_away(apps, schema_editor)


def look_again(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").look_again(apps, schema_editor)


def put_triggers_back(apps, schema_editor):
    import_module("alarms.migrations.0014_steps_of_people").put_triggers_back(apps, schema_editor)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0015_fill_steps_and_ends")]

    operations = [
        migrations.RunPython(look_away, look_again),
        migrations.RunPython(migrations.RunPython.noop, put_triggers_back),
        migrations.RemoveConstraint(
            model_name="alarm",
            name="one_open_alarm_of_a_component",
        ),
        migrations.RemoveConstraint(
            model_name="alarm",
            name="one_open_alarm_of_a_device",
        ),
        migrations.RemoveConstraint(
            model_name="alarm",
            name="alarm_state_known",
        ),
        migrations.RemoveConstraint(
            model_name="alarm",
            name="alarm_answered_before_it_ends",
        ),
        migrations.RemoveConstraint(
            model_name="alarm",
            name="waiting_alarm_is_not_answered",
        ),
        migrations.RemoveIndex(
            model_name="alarm",
            name="alarm_by_next_step",
        ),
        migrations.AlterField(
            model_name="alarm",
            name="called_from",
            field=models.DateTimeField(
                help_text="calls are timed from here: its opening, or its coming back"
            ),
        ),
        migrations.AlterField(
            model_name="alarm",
            name="last_turn_at",
            field=models.DateTimeField(help_text="the latest signal or step that counts in it"),
        ),
        migrations.AddIndex(
            model_name="alarm",
            index=models.Index(
                condition=models.Q(
                    ("state__in", ["latched-unacknowledged", "returned-unacknowledged", "unacknowledged"])
                ),
                fields=["next_step_at"],
                name="alarm_by_next_step",
            ),
        ),
        migrations.AddIndex(
            model_name="alarm",
            index=models.Index(
                condition=models.Q(("shelved_until", None), _negated=True),
                fields=["shelved_until"],
                name="alarm_by_end_of_shelving",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.UniqueConstraint(
                condition=models.Q(
                    (
                        "state__in",
                        [
                            "acknowledged",
                            "latched-acknowledged",
                            "latched-unacknowledged",
                            "out of service",
                            "returned-unacknowledged",
                            "shelved",
                            "unacknowledged",
                        ],
                    ),
                    models.Q(("component", None), _negated=True),
                ),
                fields=("facility", "component", "condition"),
                name="one_open_alarm_of_a_component",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.UniqueConstraint(
                condition=models.Q(
                    (
                        "state__in",
                        [
                            "acknowledged",
                            "latched-acknowledged",
                            "latched-unacknowledged",
                            "out of service",
                            "returned-unacknowledged",
                            "shelved",
                            "unacknowledged",
                        ],
                    ),
                    ("component", None),
                ),
                fields=("facility", "device", "condition"),
                name="one_open_alarm_of_a_device",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "state__in",
                        [
                            "normal",
                            "unacknowledged",
                            "acknowledged",
                            "returned-unacknowledged",
                            "latched-unacknowledged",
                            "latched-acknowledged",
                            "shelved",
                            "out of service",
                        ],
                    )
                ),
                name="alarm_state_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        (
                            "state__in",
                            ["acknowledged", "latched-acknowledged", "normal", "out of service", "shelved"],
                        ),
                        _negated=True,
                    ),
                    models.Q(("acknowledged_at", None), _negated=True),
                    models.Q(("merged_into", None), _negated=True),
                    _connector="OR",
                ),
                name="alarm_answered_before_it_ends",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        (
                            "state__in",
                            ["latched-unacknowledged", "returned-unacknowledged", "unacknowledged"],
                        ),
                        _negated=True,
                    ),
                    ("acknowledged_at", None),
                    _connector="OR",
                ),
                name="waiting_alarm_is_not_answered",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended_at__isnull", False), ("merged_into", None), ("state", "normal")),
                    models.Q(
                        models.Q(("state", "normal"), ("merged_into", None), _negated=True),
                        ("ended_at", None),
                    ),
                    _connector="OR",
                ),
                name="alarm_has_an_end_once_it_is_over",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("shelved_until__isnull", False), ("state", "shelved")),
                    models.Q(models.Q(("state", "shelved"), _negated=True), ("shelved_until", None)),
                    _connector="OR",
                ),
                name="alarm_is_shelved_for_a_limited_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="alarm",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("merged_at", None), ("merged_into", None)),
                    models.Q(
                        ("merged_at__isnull", False), ("merged_into__isnull", False), ("state", "normal")
                    ),
                    _connector="OR",
                ),
                name="merged_alarm_is_over",
            ),
        ),
        migrations.RunPython(put_triggers_back, migrations.RunPython.noop),
        migrations.RunPython(look_again, look_away),
    ]

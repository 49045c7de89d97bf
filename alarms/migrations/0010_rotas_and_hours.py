"""Call lists of a priority, rotas, hours, stand-ins, and the calls about a clock of the law.

Columns of an alarm that may be null do not rebuild its table on SQLite, so the triggers of 0002 stay.
"""

import datetime

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import F


def plan_running_clocks(apps, schema_editor):
    """Clocks that were noted before have no beginning on file: the alarm's own is near it. They are looked at now."""
    rows = apps.get_model("alarms", "Alarm").objects.exclude(clock_until=None)
    rows.update(clock_from=F("opened_at"), clock_step=1, clock_step_at=F("opened_at"))


class Migration(migrations.Migration):
    dependencies = [
        ("alarms", "0009_mails_shared_by_notices"),
        ("equipment", "0007_external_id_by_facility"),
    ]

    operations = [
        migrations.CreateModel(
            name="Rota",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=100)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "starts_on",
                    models.DateField(help_text="local day on which the first person's first turn begins"),
                ),
                ("turn_days", models.PositiveIntegerField(help_text="7: a week")),
                ("hand_over", models.TimeField(help_text="by the clock of the rota's zone")),
                ("time_zone", models.CharField(max_length=50)),
                ("changed_at", models.DateTimeField()),
                ("changed_by", models.CharField(max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name="RotaTurn",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("position", models.PositiveIntegerField(help_text="from 1")),
            ],
        ),
        migrations.CreateModel(
            name="Substitution",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                ("withdrawn_reason", models.CharField(blank=True, max_length=500, null=True)),
                ("withdrawn_by", models.CharField(blank=True, max_length=200, null=True)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("reason", models.CharField(max_length=500)),
                ("recorded_at", models.DateTimeField()),
                ("recorded_by", models.CharField(help_text="the person or key that sent it", max_length=200)),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="alarm",
            name="clock_from",
            field=models.DateTimeField(blank=True, help_text="since when that clock runs", null=True),
        ),
        migrations.AddField(
            model_name="alarm",
            name="clock_step",
            field=models.PositiveIntegerField(
                blank=True,
                help_text="next call about that clock: 1 at half, 2 at three quarters, 3 at its end",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="clock_step_at",
            field=models.DateTimeField(
                blank=True, help_text="when; null: nobody else is called about a clock", null=True
            ),
        ),
        migrations.AddField(
            model_name="calllist",
            name="priority",
            field=models.CharField(
                blank=True,
                choices=[("high", "high"), ("medium", "medium"), ("low", "low")],
                default="",
                max_length=10,
            ),
        ),
        migrations.AddField(
            model_name="callstep",
            name="hours",
            field=models.JSONField(
                blank=True,
                help_text="weekly hours and calendar of holidays, as alarms.hours reads them; null: at any time",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="hours",
            field=models.JSONField(
                blank=True,
                help_text="weekly hours and calendar of holidays, as alarms.hours reads them; null: at any time",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="morning",
            field=models.TimeField(
                default=datetime.time(7, 0), help_text="when their day's digest is due, by their clock"
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="time_zone",
            field=models.CharField(
                blank=True, help_text="where they live; null: the facility's", max_length=50, null=True
            ),
        ),
        migrations.AddField(
            model_name="contact",
            name="version",
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AlterField(
            model_name="calllist",
            name="facility",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="equipment.facility"
            ),
        ),
        migrations.AddIndex(
            model_name="alarm",
            index=models.Index(
                condition=models.Q(("clock_step_at", None), _negated=True),
                fields=["clock_step_at"],
                name="alarm_by_clock_step",
            ),
        ),
        migrations.AddConstraint(
            model_name="calllist",
            constraint=models.UniqueConstraint(
                fields=("facility", "priority"), name="one_call_list_a_priority"
            ),
        ),
        migrations.AddConstraint(
            model_name="calllist",
            constraint=models.CheckConstraint(
                condition=models.Q(("priority__in", ["", "high", "medium", "low"])),
                name="call_list_priority_known",
            ),
        ),
        migrations.AddField(
            model_name="rota",
            name="organisation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="equipment.organisation"
            ),
        ),
        migrations.AddField(
            model_name="callstep",
            name="rotas",
            field=models.ManyToManyField(related_name="+", to="alarms.rota"),
        ),
        migrations.AddField(
            model_name="rotaturn",
            name="contact",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="alarms.contact"
            ),
        ),
        migrations.AddField(
            model_name="rotaturn",
            name="rota",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="turns", to="alarms.rota"
            ),
        ),
        migrations.AddField(
            model_name="substitution",
            name="away",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="alarms.contact"
            ),
        ),
        migrations.AddField(
            model_name="substitution",
            name="organisation",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="equipment.organisation"
            ),
        ),
        migrations.AddField(
            model_name="substitution",
            name="stand_in",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="alarms.contact"
            ),
        ),
        migrations.AddConstraint(
            model_name="rota",
            constraint=models.UniqueConstraint(fields=("organisation", "name"), name="rota_name_used_once"),
        ),
        migrations.AddConstraint(
            model_name="rota",
            constraint=models.CheckConstraint(
                condition=models.Q(("turn_days__gte", 1)), name="turn_takes_a_day"
            ),
        ),
        migrations.AddConstraint(
            model_name="rotaturn",
            constraint=models.UniqueConstraint(fields=("rota", "position"), name="turn_position_used_once"),
        ),
        migrations.AddConstraint(
            model_name="rotaturn",
            constraint=models.CheckConstraint(
                condition=models.Q(("position__gte", 1)), name="turn_position_from_one"
            ),
        ),
        migrations.AddIndex(
            model_name="substitution",
            index=models.Index(fields=["organisation", "ends_at"], name="substitution_by_end"),
        ),
        migrations.AddConstraint(
            model_name="substitution",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("withdrawn_at", None), ("withdrawn_by", None), ("withdrawn_reason", None)),
                    models.Q(
                        models.Q(("withdrawn_at", None), _negated=True),
                        models.Q(("withdrawn_reason", None), _negated=True),
                        models.Q(("withdrawn_by", None), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="substitution_withdrawn_with_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="substitution",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="substitution_takes_time"
            ),
        ),
        migrations.AddConstraint(
            model_name="substitution",
            constraint=models.CheckConstraint(
                condition=models.Q(("away", models.F("stand_in")), _negated=True),
                name="nobody_stands_in_for_themselves",
            ),
        ),
        migrations.RunPython(plan_running_clocks, migrations.RunPython.noop),
    ]

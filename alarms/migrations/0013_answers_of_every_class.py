"""Further types of answer to an alarm, and what they rest on.

The constraint rebuilds the table on SQLite, which drops its triggers of 0005: taken out before and put back after.
"""

from importlib import import_module

import django.db.models.deletion
from django.db import migrations, models

TYPES = [
    "not releasing, fixed",
    "water removed",
    "device fault",
    "contained",
    "second month clears",
    "non-release event",
    "fault put right",
    "planned test",
    "exercise",
    "filed as suspected release",
    "no release found",
    "confirmed release",
]


def _links():
    links = import_module("alarms.migrations.0005_dispositions_same_facility").LINKS
    return [link for link in links if link[0] == "alarms_disposition"]


def install(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").install_links(schema_editor, _links())


def remove(apps, schema_editor):
    import_module("equipment.migrations.0002_same_facility").remove_links(schema_editor, _links())


class Migration(migrations.Migration):
    dependencies = [
        ("alarms", "0012_function_checks_same_facility"),
        ("equipment", "0011_delivery_names_its_check"),
    ]

    operations = [
        migrations.RunPython(remove, install),
        migrations.RemoveConstraint(model_name="disposition", name="disposition_type_known"),
        migrations.AddField(
            model_name="disposition",
            name="action",
            field=models.CharField(blank=True, help_text="what was done", max_length=2000, null=True),
        ),
        migrations.AddField(
            model_name="disposition",
            name="no_defect",
            field=models.BooleanField(blank=True, help_text="the check found no defective part", null=True),
        ),
        migrations.AlterField(
            model_name="disposition",
            name="record",
            field=models.ForeignKey(
                blank=True,
                help_text="clean result, test, function check, report to the agency",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="equipment.record",
            ),
        ),
        migrations.AlterField(
            model_name="disposition",
            name="type",
            field=models.CharField(choices=[(one, one) for one in TYPES], max_length=30),
        ),
        migrations.AddConstraint(
            model_name="disposition",
            constraint=models.CheckConstraint(
                condition=models.Q(("type__in", TYPES)), name="disposition_type_known"
            ),
        ),
        migrations.RunPython(install, remove),
    ]

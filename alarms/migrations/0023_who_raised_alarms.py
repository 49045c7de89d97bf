"""Keeps who raised an alarm, and since when, beside the messages that say so, and fills it from those on file."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Min

CHUNK = 2000


def fill(apps, schema_editor):
    AlarmSource = apps.get_model("alarms", "AlarmSource")
    raises = apps.get_model("alarms", "Event").objects.filter(signal="raised", alarm__isnull=False)
    firsts = raises.order_by().values_list("alarm_id", "received_from_id").annotate(first=Min("received_at"))
    rows = []
    for alarm, organisation, first in firsts.iterator(chunk_size=CHUNK):
        rows.append(AlarmSource(alarm_id=alarm, organisation_id=organisation, first_received_at=first))
        if len(rows) == CHUNK:
            AlarmSource.objects.bulk_create(rows, ignore_conflicts=True)
            rows = []
    AlarmSource.objects.bulk_create(rows, ignore_conflicts=True)


class Migration(migrations.Migration):
    dependencies = [("alarms", "0022_queues_put_back")]

    operations = [
        migrations.CreateModel(
            name="AlarmSource",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("first_received_at", models.DateTimeField()),
                (
                    "alarm",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="sources",
                        to="alarms.alarm",
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="equipment.organisation",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("alarm", "organisation"), name="alarm_source_once")
                ],
            },
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]

"""Indexes by which the turns of an alarm are found; the tables are large, so nobody waits for them.

The new one stands before the one in whose place it comes is dropped.
"""

from django.db import migrations, models

from equipment.online_indexes import AddIndexOnline


class Migration(migrations.Migration):
    atomic = False
    dependencies = [
        ("alarms", "0020_lines_that_are_no_events"),
        ("equipment", "0012_attachments"),
    ]

    operations = [
        AddIndexOnline(
            model_name="alarm",
            index=models.Index(fields=["facility", "condition", "last_turn_at"], name="alarm_by_turn"),
        ),
        AddIndexOnline(
            model_name="event",
            index=models.Index(
                condition=models.Q(("clock_doubtful", True)),
                fields=["facility", "received_at"],
                name="event_by_receipt",
            ),
        ),
        AddIndexOnline(
            model_name="event",
            index=models.Index(
                condition=models.Q(("alarm", None), ("conflicts_with", None), ("signal", "cleared")),
                fields=["facility", "condition"],
                name="event_loose_clear",
            ),
        ),
        migrations.RemoveIndex(model_name="alarm", name="alarm_by_condition"),
    ]

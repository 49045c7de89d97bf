# Columns only: a constraint would rebuild the table on SQLite and drop the triggers of 0002.

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("alarms", "0006_doubtful_clock")]

    operations = [
        migrations.AddField(
            model_name="alarm",
            name="clock_note",
            field=models.CharField(
                blank=True,
                help_text="what the law wants done about it; null: nothing by the hour",
                max_length=400,
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="alarm",
            name="clock_until",
            field=models.DateTimeField(
                blank=True, help_text="until when; null: no such clock runs", null=True
            ),
        ),
    ]

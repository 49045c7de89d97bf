# Columns only: a constraint would rebuild the table on SQLite and drop the triggers of 0002.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('alarms', '0023_who_raised_alarms'),
        ('equipment', '0013_papers_as_files'),
    ]

    operations = [
        migrations.AddField(
            model_name='alarm',
            name='acknowledged_until',
            field=models.DateTimeField(blank=True, help_text='it came back after it was acknowledged: if it still stands then, people are called again', null=True),
        ),
        migrations.AddIndex(
            model_name='alarm',
            index=models.Index(condition=models.Q(('acknowledged_until', None), _negated=True), fields=['acknowledged_until'], name='alarm_by_end_of_answer'),
        ),
    ]

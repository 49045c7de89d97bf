# Columns only: a constraint would rebuild the table on SQLite and drop the triggers of 0002.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('alarms', '0002_same_facility'),
    ]

    operations = [
        migrations.AddField(
            model_name='alarm',
            name='untold_reason',
            field=models.CharField(blank=True, choices=[('there is nobody to tell', 'Nobody'), ('every address was refused', 'Refused'), ('a fault of ours; it is in the log', 'Our Fault')], max_length=40, null=True),
        ),
        migrations.AddField(
            model_name='alarm',
            name='untold_since',
            field=models.DateTimeField(blank=True, help_text='since when it is known that nobody can be told; a mail sent ends it', null=True),
        ),
    ]

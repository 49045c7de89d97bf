"""Finds the answers under idempotency keys that were kept long enough; requests go on being answered meanwhile."""

from django.db import migrations, models

from equipment.online_indexes import AddIndexOnline


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("equipment", "0013_papers_as_files")]

    operations = [
        AddIndexOnline(
            model_name="submission",
            index=models.Index(
                condition=models.Q(("answer", ""), _negated=True),
                fields=["received_at"],
                name="submission_with_answer",
            ),
        ),
    ]

"""Runs and sets by their end, so that it is known at once whether anything came that teaches a rate."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0023_supply_keys")]

    operations = [
        migrations.RemoveIndex(model_name="run", name="runs_that_go_on"),
        migrations.AddIndex(
            model_name="run",
            index=models.Index(fields=["ended_at", "gauge_removal_m", "at"], name="runs_as_they_ended"),
        ),
        migrations.AddIndex(
            model_name="readingset",
            index=models.Index(fields=["subject", "state", "closed_at"], name="sets_as_they_closed"),
        ),
    ]

"""Stations, runs and bonds point at the lots and plates that they use; rows from before go on naming them."""

import django.db.models.deletion
from django.db import migrations, models


def _points(model: str, name: str, to: str, related: str) -> migrations.AddField:
    field = models.ForeignKey(
        null=True, on_delete=django.db.models.deletion.PROTECT, related_name=related, to=f"records.{to}"
    )
    return migrations.AddField(model, name, field)


class Migration(migrations.Migration):
    """See above."""

    dependencies = [("records", "0022_board_drafts")]
    operations = [
        _points("station", "abrasive_supply", "supplylot", "+"),
        _points("station", "pad_supply", "supplylot", "+"),
        _points("station", "plate_record", "plate", "+"),
        _points("run", "abrasive_supply", "supplylot", "runs"),
        _points("run", "pad_supply", "supplylot", "pad_runs"),
        _points("run", "plate_record", "plate", "runs"),
        _points("bond", "adhesive_supply", "supplylot", "bonds"),
    ]

"""Decisions about wafers that do not keep their limits. They are never changed."""

import django.db.models.deletion
from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



class Migration(migrations.Migration):
    dependencies = [("records", "0015_moves_and_prices")]

    operations = [
        migrations.CreateModel(
            name="OddDecision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("choice", models.CharField(max_length=20)),
                ("failed", models.JSONField()),
                (
                    "wafer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="odd_decisions", to="records.wafer"
                    ),
                ),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        frozen("odddecision"),
    ]

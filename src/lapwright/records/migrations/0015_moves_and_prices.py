"""Moves of the screws of jigs, and the price list version by version. Neither is ever changed."""

import django.db.models.deletion
from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



class Migration(migrations.Migration):
    dependencies = [("records", "0014_runs_that_go_on")]

    operations = [
        migrations.CreateModel(
            name="JigMove",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("turns", models.JSONField()),
                (
                    "corrects",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.jigmove",
                    ),
                ),
                (
                    "jig",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="moves", to="records.jig"
                    ),
                ),
                (
                    "wafer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="jig_moves",
                        to="records.wafer",
                    ),
                ),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        migrations.CreateModel(
            name="PriceList",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("number", models.PositiveIntegerField(unique=True)),
                ("prices", models.JSONField()),
            ],
            options={"ordering": ["number"]},
        ),
        frozen("jigmove", "pricelist"),
    ]

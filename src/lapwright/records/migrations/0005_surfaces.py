"""Faces measured by fringes or by a profile, and the findings that rest on them."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0004_frozen_streams"),
    ]

    operations = [
        migrations.CreateModel(
            name="Surface",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=10)),
                ("moment", models.CharField(max_length=20)),
                ("instrument", models.TextField(blank=True)),
                ("documents", models.JSONField()),
                ("settings", models.JSONField()),
                ("numbers", models.JSONField()),
                ("sign_ambiguous", models.BooleanField()),
                ("not_judged", models.TextField(blank=True)),
                ("software_version", models.CharField(max_length=40)),
                (
                    "gauge",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="surfaces",
                        to="records.gauge",
                    ),
                ),
                (
                    "stage",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="surfaces",
                        to="records.stage",
                    ),
                ),
                (
                    "wafer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="surfaces", to="records.wafer"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="finding",
            name="surface",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="findings", to="records.surface"
            ),
        ),
    ]

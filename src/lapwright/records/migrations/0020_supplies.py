"""What is used up, by lot, and what was taken of it. What was taken is never changed."""

import django.db.models.deletion
from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



class Migration(migrations.Migration):
    dependencies = [("records", "0019_board")]

    operations = [
        migrations.CreateModel(
            name="SupplyLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("lot_id", models.CharField(max_length=60, unique=True)),
                ("item", models.CharField(db_index=True, max_length=100)),
                ("definition", models.JSONField()),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="SupplyUse",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=10)),
                ("amount", models.FloatField()),
                (
                    "lot",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="uses", to="records.supplylot"
                    ),
                ),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        frozen("supplyuse"),
    ]

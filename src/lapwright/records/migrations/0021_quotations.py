"""Quotations of orders. They are never changed."""

import django.db.models.deletion
from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



class Migration(migrations.Migration):
    dependencies = [("records", "0020_supplies")]

    operations = [
        migrations.CreateModel(
            name="Quotation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField()),
                ("quotation", models.JSONField()),
                (
                    "order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="quotations", to="records.order"
                    ),
                ),
            ],
            options={
                "ordering": ["order_id", "version"],
                "constraints": [
                    models.UniqueConstraint(fields=["order", "version"], name="one_quotation_of_a_version")
                ],
            },
        ),
        frozen("quotation"),
    ]

"""Looks before a finer step, and handovers from shift to shift. They are never changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



def signed() -> list[Any]:
    return [
        ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
        ("by", models.CharField(max_length=150)),
        ("reason", models.TextField(blank=True)),
        ("at", models.DateTimeField()),
    ]


def to(model: str, name: str, **options: Any) -> Any:
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name=name, to=model, **options)


class Migration(migrations.Migration):
    dependencies = [("records", "0017_dropped_streams")]

    operations = [
        migrations.CreateModel(
            name="CleanCheck",
            fields=[
                *signed(),
                ("outcome", models.CharField(max_length=12)),
                ("checked", models.JSONField()),
                ("photograph", to("records.document", "clean_checks", null=True)),
                ("stage", to("records.stage", "clean_checks")),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.CreateModel(
            name="Handover",
            fields=[
                *signed(),
                ("station", models.CharField(blank=True, max_length=64)),
                ("card", models.JSONField()),
                ("note", models.TextField(blank=True)),
            ],
            options={"ordering": ["pk"]},
        ),
        migrations.CreateModel(
            name="HandoverTaken",
            fields=[
                *signed(),
                (
                    "handover",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="taken", to="records.handover"
                    ),
                ),
            ],
        ),
        frozen("cleancheck", "handover", "handovertaken"),
    ]

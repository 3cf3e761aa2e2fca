"""Lapping plates and their history: checks, places of the ring, dressings. The history is never changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_plateentry BEFORE UPDATE OR DELETE ON records_plateentry "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_plateentry_{event.lower()} BEFORE {event} ON records_plateentry "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


class Migration(migrations.Migration):
    dependencies = [("records", "0011_people_and_recipes")]

    operations = [
        migrations.CreateModel(
            name="Plate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("plate_id", models.CharField(max_length=60, unique=True)),
                ("definition", models.JSONField()),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="PlateEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=10)),
                ("ran_s", models.FloatField()),
                ("entry", models.JSONField()),
                (
                    "corrects",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="corrected_by",
                        to="records.plateentry",
                    ),
                ),
                (
                    "plate",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="entries", to="records.plate"
                    ),
                ),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        migrations.RunPython(add_triggers),
    ]

"""What is used up, by lot, and what was taken of it. What was taken is never changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_supplyuse BEFORE UPDATE OR DELETE ON records_supplyuse "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_supplyuse_{event.lower()} BEFORE {event} ON records_supplyuse "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


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
        migrations.RunPython(add_triggers),
    ]

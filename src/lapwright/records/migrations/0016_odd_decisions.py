"""Decisions about wafers that do not keep their limits. They are never changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_odddecision BEFORE UPDATE OR DELETE ON records_odddecision "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_odddecision_{event.lower()} BEFORE {event} ON records_odddecision "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


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
        migrations.RunPython(add_triggers),
    ]

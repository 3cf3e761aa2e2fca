"""Quotations of orders. They are never changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_quotation BEFORE UPDATE OR DELETE ON records_quotation "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_quotation_{event.lower()} BEFORE {event} ON records_quotation "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


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
        migrations.RunPython(add_triggers),
    ]

"""Moves of the screws of jigs, and the price list version by version. Neither is ever changed."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

FROZEN = ("jigmove", "pricelist")
SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    for name in FROZEN:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name} BEFORE UPDATE OR DELETE ON records_{name} "
                "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
            )
            continue
        for event in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name}_{event.lower()} BEFORE {event} ON records_{name} "
                f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
            )


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
        migrations.RunPython(add_triggers),
    ]

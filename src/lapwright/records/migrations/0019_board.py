"""The Board: its settings, and the schedules that were accepted. Those are never changed."""

from typing import Any

from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_boardplan BEFORE UPDATE OR DELETE ON records_boardplan "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_boardplan_{event.lower()} BEFORE {event} ON records_boardplan "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


class Migration(migrations.Migration):
    dependencies = [("records", "0018_looks_and_handovers")]

    operations = [
        migrations.CreateModel(
            name="BoardSetting",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("key", models.CharField(max_length=80, unique=True)),
                ("definition", models.JSONField()),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="BoardPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("plan", models.JSONField()),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        migrations.RunPython(add_triggers),
    ]

"""The links of the audit chain, never changed: triggers hold it, as in 0002."""

from typing import Any

from django.db import migrations, models

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_chainlink BEFORE UPDATE OR DELETE ON records_chainlink "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_chainlink_{event.lower()} BEFORE {event} ON records_chainlink "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


class Migration(migrations.Migration):
    dependencies = [("records", "0009_polish_steps")]

    operations = [
        migrations.CreateModel(
            name="ChainLink",
            fields=[
                ("number", models.PositiveBigIntegerField(primary_key=True, serialize=False)),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("content", models.TextField()),
                ("previous", models.CharField(max_length=64)),
                ("digest", models.CharField(max_length=64)),
            ],
            options={"ordering": ["number"]},
        ),
        migrations.RunPython(add_triggers),
    ]

"""Checks of gauges and readings of studies are never changed: triggers hold it, as in 0002."""

from typing import Any

from django.db import migrations

FROZEN = ("gaugecheck", "studyreading")
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
    dependencies = [("records", "0007_gauge_care")]

    operations = [migrations.RunPython(add_triggers)]

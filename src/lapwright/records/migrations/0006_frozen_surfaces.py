"""A measured face is never changed: triggers hold it, as in 0002."""

from typing import Any

from django.db import migrations

SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE TRIGGER frozen_surface BEFORE UPDATE OR DELETE ON records_surface "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_surface_{event.lower()} BEFORE {event} ON records_surface "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )


class Migration(migrations.Migration):
    dependencies = [("records", "0005_surfaces")]

    operations = [migrations.RunPython(add_triggers)]

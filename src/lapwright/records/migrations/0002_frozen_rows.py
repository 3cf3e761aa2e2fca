"""Rows that are never changed: triggers in the database hold what the models say."""

from typing import Any

from django.db import migrations

FROZEN = ("reading", "finding", "calibration", "verdict", "document", "note", "waferevent", "change")
SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "CREATE FUNCTION records_refuse() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{SAYING}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        for name in FROZEN:
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name} BEFORE UPDATE OR DELETE ON records_{name} "
                "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
            )
        return
    for name in FROZEN:
        for event in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name}_{event.lower()} BEFORE {event} ON records_{name} "
                f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
            )


class Migration(migrations.Migration):
    dependencies = [("records", "0001_first")]

    operations = [migrations.RunPython(add_triggers)]

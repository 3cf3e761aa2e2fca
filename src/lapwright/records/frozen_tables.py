"""Tables whose rows are never changed or deleted: the database itself refuses it. For the migrations that make them."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.db import migrations

_SAYING = "a record is never changed or deleted"


def frozen(*tables: str) -> migrations.RunPython:
    """The step of a migration that makes the database refuse to change or delete rows of tables, named in short."""
    return migrations.RunPython(partial(_add_triggers, tables=tables))


# ----------------------------------------------------------------------------------------------------------------------


def _add_triggers(apps: Any, schema_editor: Any, *, tables: tuple[str, ...]) -> None:  # noqa: ARG001  Django's shape
    for table in tables:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{table} BEFORE UPDATE OR DELETE ON records_{table} "
                "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
            )
            continue
        for event in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{table}_{event.lower()} BEFORE {event} ON records_{table} "
                f"BEGIN SELECT RAISE(ABORT, '{_SAYING}'); END"
            )

"""Databases as older versions left them: each schema there ever was, with rows in all of its tables.

A schema is made by running the migrations up to its number; rows are written as the tables then were, past the program
of today, and read back by plain SQL, so that what is compared after an upgrade is what the database stored.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

#: Tables that an upgrade writes itself, or that are no records.
LEFT_OUT = ("chainlink", "loginattempt")


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredRow:
    """A row of an old schema: its table, its key, and every column as it was stored."""

    table: str
    key: int
    columns: tuple[str, ...]
    values: tuple[Any, ...]


def schemas() -> tuple[str, ...]:
    """Names of all schemas there were, the oldest first; the last is today's."""
    from django.db import connection
    from django.db.migrations.loader import MigrationLoader

    loader = MigrationLoader(connection)
    return tuple(sorted(name for app, name in loader.disk_migrations if app == "records"))


@contextmanager
def old_database(address: str) -> Iterator[None]:
    """An empty database at an address, asked instead of the one the records were started with."""
    from django.db import connections

    from lapwright.records import copying

    with copying.beside(address), copying.instead(copying.OTHER):
        if connections[copying.OTHER].vendor == "sqlite":
            connections[copying.OTHER].cursor().execute("PRAGMA synchronous = OFF")  # it need survive no crash
        yield


def filled(names: tuple[str, ...]) -> list[StoredRow]:
    """Migrate to each schema in turn, and write a row into every table it has then."""
    from django.db import connection, transaction
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    state: Any = None
    stored: list[StoredRow] = []
    for number, name in enumerate(names, start=1):
        state = executor.migrate([("records", name)], state=state)
        with transaction.atomic():
            stored += _rows_of(state.apps, number)
        executor.loader.build_graph()
    return stored


def lost(stored: list[StoredRow]) -> list[str]:
    """What is not as it was stored, one sentence a row; columns are compared that the table still has."""
    from django.db import connection

    found = []
    with connection.cursor() as cursor:
        for row in stored:
            there = {one.name for one in connection.introspection.get_table_description(cursor, row.table)}
            gone = sorted(set(row.columns) - there)
            if gone:
                found.append(f"{row.table} has lost the columns {', '.join(gone)}.")
                continue
            now = _read(cursor, row.table, row.key, row.columns)
            if now != row.values:
                found.append(f"Row {row.key} of {row.table} was {row.values}, and is {now}.")
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _rows_of(apps: Any, number: int) -> Iterator[StoredRow]:
    """One row for each table; those that are pointed at come first."""
    from django.db import connection

    made: dict[str, Any] = {}
    with connection.cursor() as cursor:
        for model in _in_order(list(apps.get_app_config("records").get_models())):
            values = {field.attname: _value(field, made, number) for field in model._meta.concrete_fields[1:]}  # noqa: SLF001
            row = model(**values)
            row.save_base(force_insert=True)
            made[model._meta.label_lower] = row.pk  # noqa: SLF001
            columns = tuple(sorted(field.column for field in model._meta.concrete_fields))  # noqa: SLF001
            table = model._meta.db_table  # noqa: SLF001
            yield StoredRow(table=table, key=row.pk, columns=columns, values=_read(cursor, table, row.pk, columns))


def _in_order(models: list[Any]) -> Iterator[Any]:
    waiting = {model._meta.label_lower: model for model in models if model._meta.model_name not in LEFT_OUT}  # noqa: SLF001
    while waiting:
        ready = [
            name
            for name, model in waiting.items()
            if not any(
                field.remote_field and not field.null and field.related_model._meta.label_lower in waiting  # noqa: SLF001
                for field in model._meta.concrete_fields  # noqa: SLF001
                if field.related_model is not model
            )
        ]
        for name in ready:
            yield waiting.pop(name)


def _value(field: Any, made: dict[str, Any], number: int) -> Any:
    """Something that the column takes, another for each schema."""
    if field.remote_field is not None:
        return made.get(field.related_model._meta.label_lower)  # noqa: SLF001
    kind = field.get_internal_type()
    if kind in ("CharField", "TextField", "EmailField"):
        return f"{number} µm \"{field.name}'"[: field.max_length]
    return {
        "DateTimeField": datetime(2026, 1, number, 8, 0, 0, 123456, tzinfo=UTC),
        "DateField": date(2026, 2, number),
        "JSONField": {"thickness": 1e-6 * number, "of": [None, True, "µ"]},
        "FloatField": 0.1 * number,
        "BooleanField": True,
        "BinaryField": bytes([0, number, 255]),
    }.get(kind, number)


def _read(cursor: Any, table: str, key: int, columns: tuple[str, ...]) -> tuple[Any, ...]:
    named = ", ".join(f'"{name}"' for name in columns)
    cursor.execute(f'SELECT {named} FROM "{table}" WHERE id = %s', [key])  # noqa: S608  tables and columns of ours
    found = cursor.fetchone()
    return () if found is None else tuple(bytes(one) if isinstance(one, memoryview) else one for one in found)

"""All records from one database into another, empty one: row for row, and compared as they arrived.

The rows are read from one state of the source and written in one transaction of the target, so that a copy is there
whole or not at all. Rows go as stored values, past the models: keys, signatures, versions and the chain of digests are
those of the source. What Django keeps for itself (sessions, kinds of content) is not copied: people log in anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from copy import deepcopy
from datetime import UTC, date, datetime
from typing import Any

from django.apps import apps
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connections, transaction
from django.db.models import Model

from lapwright.errors import Conflict, RecordError, SettingError
from lapwright.model.evidence import ChainReport, CopiedTable
from lapwright.records import chain, chain_check, upgrading
from lapwright.records.chain_form import digest, kinds_of
from lapwright.records.django_settings import database
from lapwright.records.faults import translated

HERE, OTHER = "default", "other"
PORTION = 200  # rows held at once; a link of the chain may be as long as a megabyte

Put = Callable[[list[tuple[Any, ...]]], None]


def move_to(address: str) -> tuple[tuple[CopiedTable, ...], ChainReport]:
    """Copy everything into the database at an address; nobody writes here meanwhile.

    Raises `SettingError` for an address that cannot be used, `Conflict` for a database that holds something,
    `SchemaTooNew`, and `RecordError` when what arrived is not what was sent; then nothing is left there.
    """
    with translated(), beside(address), transaction.atomic(using=HERE), transaction.atomic(using=OTHER):
        _hold_writers()
        make_tables()
        _need_empty()
        tables = copy_all(HERE, OTHER)
        connections[OTHER].check_constraints()
        return tables, _need_same_chain()


def copy_all(source: str, target: str) -> tuple[CopiedTable, ...]:
    """Every row of every table, read back and compared. Inside transactions of both.

    Raises `RecordError` when a table did not arrive as it was sent.
    """
    tables = []
    _check_later(target)
    for model in _models():
        sent = _copied(model, source, target)
        arrived = told(model, target)
        if sent != arrived:
            raise RecordError(
                f"The table {sent.table} did not arrive as it was sent: {sent.rows} rows with the hash"
                f" {sent.sha256[:12]}, arrived {arrived.rows} with {arrived.sha256[:12]}. Nothing was kept; try again."
            )
        tables.append(sent)
    _go_on_counting(target)
    return tuple(tables)


def told(model: type[Model], alias: str) -> CopiedTable:
    """Rows of a table and the SHA-256 over their digests in the order of their keys."""
    found, count = hashlib.sha256(), 0
    columns, kinds = _columns(model)
    for portion in _portions(model, columns, alias):
        count += len(portion)
        _fold(found, model, kinds, portion)
    return CopiedTable(table=model._meta.db_table, rows=count, sha256=found.hexdigest())  # noqa: SLF001  Django's name


# ----------------------------------------------------------------------------------------------------------------------


@contextmanager
def beside(address: str) -> Iterator[None]:
    """A second database beside the one the records were started with, ready to have its tables made."""
    described = deepcopy(connections.settings[HERE]) | database(address)
    described["OPTIONS"].pop("pool", None)
    connections.settings[OTHER] = described
    try:
        connections[OTHER].ensure_connection()
        connections[OTHER].disable_constraint_checking()  # SQLite takes tables in a transaction only so
        yield
    except ImproperlyConfigured as error:
        raise SettingError("PostgreSQL needs a part that is not installed: the extra `lab`.") from error
    finally:
        if any(one.alias == OTHER for one in connections.all(initialized_only=True)):
            connections[OTHER].close()
            del connections[OTHER]
        del connections.settings[OTHER]


def make_tables() -> None:
    """The tables of this version in the other database, unless something stands there already."""
    connection = connections[OTHER]
    names = set(connection.introspection.table_names())
    ours = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}  # noqa: SLF001
    strange = sorted(names - ours - {"django_migrations"})
    if strange:
        raise Conflict(
            f"The database holds tables that are not ours: {', '.join(strange[:5])}. Make an empty one and name it."
        )
    with instead(OTHER):
        missing = upgrading.pending_migrations()
    if missing:
        call_command("migrate", database=OTHER, verbosity=0, interactive=False)


def _hold_writers() -> None:
    """On SQLite the transaction itself keeps other writers out; on PostgreSQL they wait at the chain."""
    for alias in (HERE, OTHER):
        if connections[alias].vendor == "postgresql":
            with connections[alias].cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(%s)", [chain.LOCK_NUMBER])


def _need_empty() -> None:
    filled = []
    with connections[OTHER].cursor() as cursor:
        for model in _models():
            cursor.execute(f'SELECT count(*) FROM "{model._meta.db_table}"')  # noqa: S608, SLF001  a table of ours
            rows = cursor.fetchone()[0]
            if rows:
                filled.append(f"{model._meta.db_table} {rows}")  # noqa: SLF001
    if filled:
        raise Conflict(
            f"The database is not empty (rows: {', '.join(filled[:5])}). Records are never mixed: make an empty one"
            " and name it."
        )


def _need_same_chain() -> ChainReport:
    """What verification finds there; it must be what it finds here."""
    here = chain_check.check_chain()
    with instead(OTHER):
        there = chain_check.check_chain()
    if there != here:
        said = "; ".join(fault.sentence for fault in there.faults[:3]) or "its counts differ"
        raise RecordError(f"The chain does not hold there as it holds here: {said}. Nothing was kept.")
    return there


@contextmanager
def instead(alias: str) -> Iterator[None]:
    """The tables ask another database for a while."""
    before = connections[HERE]
    connections[HERE] = connections[alias]
    try:
        yield
    finally:
        connections[HERE] = before


def _check_later(alias: str) -> None:
    """Rows may come before those they point at; making the tables has left some checks at once."""
    if connections[alias].vendor == "postgresql":
        with connections[alias].cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")


def _models() -> list[type[Model]]:
    """Every table of the records, those that join two of them among it."""
    return list(apps.get_app_config("records").get_models(include_auto_created=True))


def _columns(model: type[Model]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Columns with the key first, and their kinds; keys are whole numbers."""
    fields = sorted(model._meta.concrete_fields, key=lambda item: (not item.primary_key, item.column))  # noqa: SLF001
    names = tuple(str(item.column) for item in fields)
    return names, ("IntegerField", *kinds_of(model, names[1:]))


def _copied(model: type[Model], source: str, target: str) -> CopiedTable:
    found, count = hashlib.sha256(), 0
    columns, kinds = _columns(model)
    form = _for_postgresql if connections[target].vendor == "postgresql" else _for_sqlite
    with _writing(model, columns, target) as put:
        for portion in _portions(model, columns, source):
            count += len(portion)
            _fold(found, model, kinds, portion)
            put([tuple(map(form, kinds, row)) for row in portion])
    return CopiedTable(table=model._meta.db_table, rows=count, sha256=found.hexdigest())  # noqa: SLF001


def _portions(model: type[Model], columns: Sequence[str], alias: str) -> Iterator[list[tuple[Any, ...]]]:
    named = ", ".join(f'"{name}"' for name in columns)
    with connections[alias].chunked_cursor() as cursor:
        cursor.execute(f'SELECT {named} FROM "{model._meta.db_table}" ORDER BY "{columns[0]}"')  # noqa: S608, SLF001
        while portion := cursor.fetchmany(PORTION):
            yield portion


def _fold(found: Any, model: type[Model], kinds: Sequence[str], portion: list[tuple[Any, ...]]) -> None:
    name = model._meta.db_table  # noqa: SLF001
    for key, *values in portion:
        found.update(digest(name, key, kinds[1:], values, stored=True).encode())


@contextmanager
def _writing(model: type[Model], columns: Sequence[str], alias: str) -> Iterator[Put]:
    table = f'"{model._meta.db_table}"'  # noqa: SLF001
    named = ", ".join(f'"{name}"' for name in columns)
    connection = connections[alias]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with connection.wrap_database_errors, cursor.copy(f"COPY {table} ({named}) FROM STDIN") as stream:

                def put(rows: list[tuple[Any, ...]]) -> None:
                    for row in rows:
                        stream.write_row(row)

                yield put
            return
        marks = ", ".join("%s" for _ in columns)
        yield lambda rows: cursor.executemany(f"INSERT INTO {table} ({named}) VALUES ({marks})", rows)  # noqa: S608


def _for_postgresql(kind: str, value: Any) -> Any:
    """A stored value as PostgreSQL takes it."""
    if value is None:
        return None
    if kind == "DateTimeField":
        found = datetime.fromisoformat(value) if isinstance(value, str) else value
        return found if found.tzinfo is not None else found.replace(tzinfo=UTC)
    if kind == "BooleanField":
        return bool(value)
    return value


def _for_sqlite(kind: str, value: Any) -> Any:
    """A stored value as Django keeps it in SQLite."""
    if isinstance(value, datetime):
        return str(value.astimezone(UTC).replace(tzinfo=None) if value.tzinfo else value)
    if isinstance(value, date):
        return value.isoformat()
    return bytes(value) if kind == "BinaryField" and value is not None else value


def _go_on_counting(alias: str) -> None:
    """Keys of new rows go on after the highest that was copied."""
    with connections[alias].cursor() as cursor:
        for statement in connections[alias].ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)

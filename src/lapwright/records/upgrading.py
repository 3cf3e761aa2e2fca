"""Bringing the database up to this version, and refusing one that is ahead of it.

All missing migrations and the taking in of what they brought are one transaction: a process killed in the midst of
them leaves the database as it was.
"""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

from lapwright.errors import SchemaTooNew
from lapwright.records import chain_adoption
from lapwright.records.faults import translated
from lapwright.settings import Settings

LOCK_NUMBER = 0x6C617077  # any fixed number will do, as long as it is ours alone in that database


def bring_up_to_date(settings: Settings) -> None:
    """Run the migrations that are missing, one process at a time, and make the local person known."""
    with translated():
        if pending_migrations():
            with _alone(settings):
                if pending_migrations():
                    _migrate()
        make_person(settings)


def pending_migrations() -> tuple[str, ...]:
    """Names of the migrations the database lacks. Raises `SchemaTooNew` when it has some that are unknown here."""
    executor = MigrationExecutor(connection)
    known = set(executor.loader.disk_migrations or {})
    ours = {app for app, _ in known}
    applied = MigrationRecorder(connection).applied_migrations()
    unknown = sorted(f"{app}.{name}" for app, name in applied if app in ours and (app, name) not in known)
    if unknown:
        raise SchemaTooNew(
            f"The database was written by a newer version of the program (it has {', '.join(unknown)})."
            " Update the program, or restore a backup made with this version.",
            unknown=unknown,
        )
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return tuple(f"{migration.app_label}.{migration.name}" for migration, _ in plan)


def make_person(settings: Settings) -> None:
    """The local person, made once: pages and recorder of a new folder are often started in the same moment."""
    from lapwright.records.models import Person

    known = Person.objects.filter(username=settings.person)
    if not known.exists():
        with _alone(settings):
            if not known.exists():
                Person.objects.create(username=settings.person, first_name="", last_name="")


# ----------------------------------------------------------------------------------------------------------------------


def _migrate() -> None:
    """All at once or nothing. SQLite is told before the transaction that its schema changes."""
    connection.disable_constraint_checking()
    try:
        with transaction.atomic():
            call_command("migrate", verbosity=0, interactive=False)
            chain_adoption.take_in()
    finally:
        connection.enable_constraint_checking()


@contextmanager
def _alone(settings: Settings) -> Iterator[None]:
    """Hold what no second process can hold: a lock in the database, or for SQLite on a file beside it."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_lock(%s)", [LOCK_NUMBER])
            try:
                yield
            finally:
                cursor.execute("SELECT pg_advisory_unlock(%s)", [LOCK_NUMBER])
        return
    with (settings.data / ".upgrade-lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield

"""How the records stand, asked cheaply: for whoever watches over the program."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Count, Max

from lapwright.model.program import RecordsState
from lapwright.records import chain, models
from lapwright.records.faults import translated

#: Tables whose keys only grow and whose rows never go: the highest key counts what was ever written.
COUNTED = {
    "readings": models.Reading,
    "blocks of streams": models.StreamBlock,
    "events of streams": models.StreamEvent,
    "requests to the recorder": models.LiveRequest,
    "verdicts": models.Verdict,
    "documents": models.Document,
}


def records_state() -> RecordsState:
    """Kind, schema, size, last link, what was written and what is under way."""
    with translated():
        last = models.ChainLink.objects.order_by("-number").values_list("number", "at").first()
        return RecordsState(
            kind=str(connection.vendor),
            server=_server(),
            schema=_schema(),
            size=_size(),
            links=last[0] if last else 0,
            last_write=last[1] if last else None,
            written={
                name: table._default_manager.aggregate(most=Max("pk"))["most"] or 0  # noqa: SLF001
                for name, table in COUNTED.items()
            },
            orders=models.Order.objects.count(),
            wafers=dict(models.Wafer.objects.order_by().values_list("state").annotate(many=Count("pk"))),
            runs_going=models.Stream.objects.filter(end=None).count(),
            requests_waiting=models.LiveRequest.objects.filter(answer=None).count(),
        )


def server_time() -> datetime | None:
    """What time the database server has; None for SQLite, which has this machine's."""
    if connection.vendor != "postgresql":
        return None
    with translated(), connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        found: datetime = cursor.fetchone()[0]
        return found


def anchored_end() -> tuple[int, str] | None:
    """The last anchor of this chain in the data folder, read from the end of the file; None without one."""
    path = chain.anchor_file()
    first = chain.look_up_first()[:16]
    if not path.exists() or not first:
        return None
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - 4096))
        lines = [line.split() for line in file.read().decode("ascii", errors="replace").splitlines()]
    ours = [line for line in lines if len(line) == 3 and line[0].isdigit() and line[2] == first]
    return (int(ours[-1][0]), ours[-1][1]) if ours else None


def link_digest_of(number: int) -> str | None:
    """The digest of a link; None when it is not there."""
    with translated():
        found: str | None = models.ChainLink.objects.filter(number=number).values_list("digest", flat=True).first()
        return found


# ----------------------------------------------------------------------------------------------------------------------


def _schema() -> str:
    applied = [name for app, name in MigrationRecorder(connection).applied_migrations() if app == "records"]
    return max(applied, default="")


def _server() -> str:
    if connection.vendor == "sqlite":
        return f"SQLite {_asked('SELECT sqlite_version()')}"
    return f"PostgreSQL {_asked('SHOW server_version')}"


def _size() -> int:
    if connection.vendor == "postgresql":
        return int(_asked("SELECT pg_database_size(current_database())"))
    path = Path(connection.settings_dict["NAME"])
    return sum(one.stat().st_size for one in (path, Path(f"{path}-wal")) if one.exists())


def _asked(question: str) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(question)
        return cursor.fetchone()[0]

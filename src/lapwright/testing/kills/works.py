"""What is done when the kill comes: real commands, real pages, the real recorder, the real upgrade.

Each work has a database prepared for it, what is done in the process that is killed, and where that process answers
over HTTP the client. A line told is an acknowledgement: what a person or a program was shown as done.
"""

from __future__ import annotations

import asyncio
import http.client
import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lapwright.testing.empty import lay_empty_database
from lapwright.testing.kills.databases import Bench
from lapwright.testing.lot import ORDER, Lot, write_incoming_file
from lapwright.testing.served import form_headers

WAFERS, SITES, FILES = 4, 20, 4
POSTS = 25
SPEED = 20.0  # times as fast as the recorded stream was
RECORDING = 2.0  # s of it before the kill at the latest
BEFORE = "0008_frozen_gauge_care"  # the schema before there was a chain
OLD_ROWS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A kind of work: its database, out of nothing or a fresh one, what is done, and for how long at most [s]."""

    name: str
    prepare: Callable[[Bench], None] | None
    is_old: bool = False
    do: Callable[[Bench], None]
    ask: Callable[[], Iterator[str]] | None = None
    longest: float | None = None


def opened(bench: Bench) -> None:
    """Open the database as every start of the program does."""
    from lapwright.records import starting, upgrading

    starting.secret_key(bench.data)
    upgrading.bring_up_to_date(bench.settings)


def fresh(bench: Bench) -> None:
    """Make a database of this version with nothing in it; a SQLite file is copied from one made before."""
    if bench.server is None:
        lay_empty_database(bench.data)
    opened(bench)


def value_text(number: int) -> str:
    """What is typed as the reading of a number."""
    return "0.0" if number == 0 else f"{500.0 + number / 100.0:.2f}"


def file_of(bench: Bench, number: int) -> Path:
    """A readings file to be imported."""
    return bench.folder / f"incoming-{number}.csv"


def stream_of(bench: Bench) -> Path:
    """The recorded stream that the recorder follows."""
    return bench.folder / "stream.csv"


# ----------------------------------------------------------------------------------------------------------------------


def _prepare_import(bench: Bench) -> None:
    lot = Lot()
    lot.furnish()
    lot.receive(replace(ORDER, quantity=WAFERS))
    for number in range(FILES):
        sites = SITES + number  # no two files alike: the same file twice is refused
        write_incoming_file(file_of(bench, number), wafers=WAFERS, sites=sites)


def _import(bench: Bench) -> None:
    """`lapwright import` for one file after the other; it tells each as done by its line of JSON."""
    from lapwright.cli.main import exit_status

    for number in range(FILES):
        words = ["import", str(file_of(bench, number)), "--gauge", "G1", "--data", str(bench.data), "--json"]
        if exit_status(words):
            raise RuntimeError(f"The import of file {number} was refused.")


def _prepare_readings(bench: Bench) -> None:
    from lapwright.app import readings

    del bench
    lot = Lot()
    lot.furnish()
    lot.receive()
    readings.open_set(lot.request("AP-1-01", "wafer", "incoming", repeats=20), **lot.why())


_listener: list[socket.socket] = []


def _serve(bench: Bench) -> None:
    """The pages, on a socket that was open before the fork."""
    import uvicorn

    opened(bench)
    config = uvicorn.Config("lapwright.web.asgi:application", log_level="critical", lifespan="off")
    uvicorn.Server(config).run(sockets=_listener)


def _type_readings() -> Iterator[str]:
    """Readings typed into the page until it answers no more; each is told once the page says it has it."""
    place = "/orders/AP-1/readings/1"
    host, port = _listener[0].getsockname()
    connection = http.client.HTTPConnection(host, port, timeout=60.0)
    try:
        connection.request("GET", place)
        page = connection.getresponse()
        said = page.read()
        if page.status != http.HTTPStatus.OK:
            raise RuntimeError(f"The page was answered with {page.status}: {said[-1500:]!r}")
        headers = form_headers(page)
        for number in range(POSTS):
            connection.request("POST", f"{place}/take", f"seen={number}&value={value_text(number)}", headers)
            answer = connection.getresponse()
            said = answer.read()
            if answer.status != http.HTTPStatus.FOUND:
                raise RuntimeError(f"Reading {number} was answered with {answer.status}: {said[-1500:]!r}")
            yield str(number)
    except (OSError, http.client.HTTPException):
        return
    finally:
        connection.close()


def _prepare_recording(bench: Bench) -> None:
    from lapwright.app import live
    from lapwright.testing.live import feed_of, now_why, ready_lot, write_stream

    ready_lot(bench.settings)
    (bench.data / "ready.sqlite3").unlink(missing_ok=True)
    write_stream(stream_of(bench))
    live.set_feed(feed_of(f"replay:{stream_of(bench)}?speed={SPEED:g}"), **now_why())


def _record(bench: Bench) -> None:
    """The recorder with a run; what it shows as stored is told."""
    from lapwright.app import live
    from lapwright.app.recorder.loop import Recorder
    from lapwright.testing.live import ORDER as RUN
    from lapwright.testing.live import now_why

    opened(bench)
    live.request_start(RUN, **now_why())
    print("asked")  # noqa: T201  an acknowledgement

    async def main() -> None:
        recorder = Recorder(bench.settings)
        show = recorder.broadcast.tell

        def tell(batch: Any) -> None:
            show(batch)
            if batch.run_id is not None:
                print(f"stored {batch.run_id} {batch.stored}")  # noqa: T201  an acknowledgement

        recorder.broadcast.tell = tell  # type: ignore[method-assign]
        await recorder.run(asyncio.Event())

    asyncio.run(main())


def _prepare_upgrade(bench: Bench) -> None:
    """A database as it was before there was a chain, with people, orders and notes in it."""
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    from lapwright.records import starting
    from lapwright.records.coding import to_plain

    starting.secret_key(bench.data)
    executor = MigrationExecutor(connection)
    others = [leaf for leaf in executor.loader.graph.leaf_nodes() if leaf[0] != "records"]
    executor.migrate([("records", BEFORE), *others])
    tables = MigrationExecutor(connection).loader.project_state([("records", BEFORE)]).apps
    at = datetime(2026, 1, 5, 8, 0, 0, 500_000, tzinfo=UTC)
    tables.get_model("records", "Person").objects.create(username="local", first_name="Ada")
    order = tables.get_model("records", "Order").objects.create(
        by="local", reason="came in", at=at, order_id="AP-1", customer=ORDER.customer, material=ORDER.material,
        quantity=ORDER.quantity, definition=to_plain(ORDER),
    )  # fmt: skip
    for number in range(OLD_ROWS):
        tables.get_model("records", "Note").objects.create(
            by="local", reason="", at=at, kind="note", text=f"note {number}", order=order
        )


def listen() -> None:
    """A socket for the pages of the next kill; the one before is closed."""
    while _listener:
        _listener.pop().close()
    _listener.append(socket.create_server(("127.0.0.1", 0)))


WORKS = {
    work.name: work
    for work in (
        Work(name="import", prepare=_prepare_import, do=_import),
        Work(name="readings", prepare=_prepare_readings, do=_serve, ask=_type_readings),
        Work(name="recording", prepare=_prepare_recording, do=_record, longest=RECORDING),
        Work(name="upgrade", prepare=_prepare_upgrade, is_old=True, do=opened),
        Work(name="first-start", prepare=None, do=opened),
    )
}

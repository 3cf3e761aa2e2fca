"""Batches to whoever listens: a socket on this machine, its address and key in a file of the data folder.

Each listener has a short queue of its own; when it is full the oldest batch goes. A listener that takes nothing for ten
seconds is let go. Nothing here can hold up the recorder.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import os
import secrets
from collections import deque
from collections.abc import AsyncGenerator, Callable
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from lapwright.model.live import LiveBatch, LiveFault

ADDRESS_FILE = "recorder.json"
KEPT = 20  # batches for a slow listener
PATIENCE = 10.0  # s that a listener may take nothing
SILENCE = 3.0  # s without a batch after which the recorder counts as away
LONGEST = 1 << 20  # bytes of one batch
AWAY = "The recorder does not answer. Nothing is being followed or stopped; watch the machine yourself."


@dataclass(slots=True, eq=False)
class _Listener:
    station_id: str | None
    queue: deque[bytes] = field(default_factory=lambda: deque(maxlen=KEPT))
    filled: asyncio.Event = field(default_factory=asyncio.Event)


class Broadcast:
    """The recorder's end: listens on a free port of this machine, tells everybody each batch."""

    def __init__(self, folder: Path, *, also: Callable[[LiveBatch], None] | None = None) -> None:
        self._file, self._also = folder / ADDRESS_FILE, also
        self._key = secrets.token_urlsafe(24)
        self._listeners: set[_Listener] = set()
        self._server: asyncio.Server | None = None

    async def __aenter__(self) -> Self:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", 0, limit=LONGEST)
        port = self._server.sockets[0].getsockname()[1]
        spare = self._file.with_suffix(".new")
        handle = os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            json.dump({"port": port, "key": self._key, "pid": os.getpid()}, file)
        spare.replace(self._file)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._server is not None
        self._file.unlink(missing_ok=True)
        self._server.close()
        for listener in self._listeners:
            listener.filled.set()

    @property
    def listeners(self) -> int:
        """How many listen now."""
        return len(self._listeners)

    def tell(self, batch: LiveBatch) -> None:
        """A batch to everybody who wants that station, and passed on to other machines; never waits."""
        if self._also is not None:
            self._also(batch)
        line: bytes | None = None
        for listener in self._listeners:
            if listener.station_id in (None, batch.station_id):
                line = line or to_line(batch)
                listener.queue.append(line)
                listener.filled.set()

    # ------------------------------------------------------------------------------------------------------------------

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError, ValueError, TimeoutError):
            async with asyncio.timeout(PATIENCE):
                asked = json.loads(await reader.readline())
            if secrets.compare_digest(str(asked.get("key")), self._key):
                listener = _Listener(station_id=asked.get("station"))
                self._listeners.add(listener)
                try:
                    await self._send(listener, writer)
                finally:
                    self._listeners.discard(listener)
        writer.transport.abort()

    async def _send(self, listener: _Listener, writer: asyncio.StreamWriter) -> None:
        writer.transport.set_write_buffer_limits(high=LONGEST // 8)
        while self._server is not None and self._server.is_serving():
            while listener.queue:
                writer.write(listener.queue.popleft())
                async with asyncio.timeout(PATIENCE):
                    await writer.drain()
            listener.filled.clear()
            await listener.filled.wait()


async def batches_from(folder: Path, station_id: str | None) -> AsyncGenerator[LiveBatch, None]:
    """Batches from the recorder of a data folder, until it falls silent.

    Raises `OSError` when there is none or it does not answer.
    """
    address = json.loads((folder / ADDRESS_FILE).read_text(encoding="ascii"))
    reader, writer = await asyncio.open_connection("127.0.0.1", int(address["port"]), limit=LONGEST)
    try:
        writer.write(json.dumps({"key": address["key"], "station": station_id}).encode() + b"\n")
        while True:
            async with asyncio.timeout(SILENCE):
                line = await reader.readline()
            if not line:
                return
            yield from_line(line)
    finally:
        writer.close()


def to_line(batch: LiveBatch) -> bytes:
    """A batch as one line."""
    plain = {name: _finite(value) for name, value in asdict(batch).items()}
    plain["at"] = batch.at.isoformat()
    return json.dumps(plain, allow_nan=False).encode() + b"\n"


def _finite(value: object) -> object:
    """A number that is none is not known."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def from_line(line: bytes) -> LiveBatch:
    """The batch that `to_line` made a line of."""
    plain: dict[str, Any] = json.loads(line)
    plain["at"] = datetime.fromisoformat(plain["at"])
    plain["points"] = tuple((time, removal) for time, removal in plain["points"])
    plain["faults"] = tuple(LiveFault(**fault) for fault in plain["faults"])
    return LiveBatch(**plain)

"""A gauge that listens on a port of the loopback address."""

from __future__ import annotations

import asyncio

from lapwright.gauges.simulating import Peer, free_port, line_of, until_set


class Simulator(Peer):
    """Sends to everybody who is connected; `heard` is what was asked."""

    def __init__(self, *, greeting: bytes = b"") -> None:
        self._port = free_port()
        self.address = f"tcp:127.0.0.1:{self._port}?unit=um"
        self.heard = bytearray()
        self._greeting = greeting
        self._server: asyncio.Server | None = None
        self._clients: set[asyncio.StreamWriter] = set()
        self._serving: set[asyncio.Task[None]] = set()
        self._listened = asyncio.Event()

    async def revive(self) -> None:
        """Listen on the port."""
        self._server = await asyncio.start_server(self._begin, "127.0.0.1", self._port)

    async def die(self) -> None:
        """Cut every connection and close the port."""
        if self._server is not None:
            self._server.close()
        for writer in self._clients:
            writer.transport.abort()
        self._clients.clear()
        self._listened.clear()
        if self._serving:
            await asyncio.wait(self._serving, timeout=1.0)

    async def send(self, *lengths: float) -> None:
        """Send readings [m] as lines."""
        for length in lengths:
            await self.send_raw(line_of(length))

    async def send_raw(self, data: bytes) -> None:
        """Send bytes as they are."""
        await until_set(self._listened)
        for writer in self._clients:
            writer.write(data)
            await writer.drain()

    def _begin(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        serving = asyncio.create_task(self._serve(reader, writer))
        self._serving.add(serving)
        serving.add_done_callback(self._serving.discard)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(self._greeting)
        self._clients.add(writer)
        self._listened.set()
        try:
            while asked := await reader.read(1024):
                self.heard += asked
        except OSError:
            pass
        finally:
            self._clients.discard(writer)
            writer.transport.abort()
            if not self._clients:
                self._listened.clear()

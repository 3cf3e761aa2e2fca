"""A network socket: we connect to the gauge, or to the box that its cable ends in, and listen."""

from __future__ import annotations

import asyncio
import contextlib
import socket

from lapwright.errors import NotConnected
from lapwright.gauges.address import Options, split_host
from lapwright.gauges.byte_stream import BYTE_OPTIONS, ByteFeed, ask
from lapwright.gauges.frames.options import check_frame_options
from lapwright.gauges.roles import Link, Sink

OPTIONS = BYTE_OPTIONS
CONNECTING = 5.0  # s


def connect(place: str, options: Options) -> Link:
    """The link to ``host:port``."""
    check_frame_options(options)
    host, port, _ = split_host(place)
    return TcpLink(host, port, options)


class TcpLink:
    """One socket, opened anew by each `run`."""

    has_own_time = False

    def __init__(self, host: str, port: int, options: Options) -> None:
        self._host, self._port, self._options = host, port, options

    async def run(self, sink: Sink) -> None:
        """Connect and hand on what is heard until the peer is gone."""
        reader, writer = await self._open()
        sink.connected()
        feed = ByteFeed(self._options, sink)

        async def send(request: bytes) -> None:
            writer.write(request)
            await writer.drain()

        asking = asyncio.create_task(ask(send, self._options, failed=lambda _: writer.transport.abort()))
        try:
            while data := await reader.read(65536):
                feed.take(data, sink.now())
        except OSError as error:
            raise NotConnected(f"The connection to {self._host}:{self._port} broke: {error}.") from error
        finally:
            asking.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await asking
            writer.transport.abort()
            feed.finish()
        raise NotConnected(f"{self._host}:{self._port} closed the connection.")

    async def _open(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        try:
            async with asyncio.timeout(CONNECTING):
                reader, writer = await asyncio.open_connection(self._host, self._port)
        except (OSError, TimeoutError) as error:
            raise NotConnected(
                f"Nothing answers at {self._host}:{self._port} ({error or 'no answer in time'}). "
                "Check that the gauge is on, and the address."
            ) from error
        _notice_a_dead_peer(writer.get_extra_info("socket"))
        return reader, writer


# ----------------------------------------------------------------------------------------------------------------------


def _notice_a_dead_peer(connection: socket.socket) -> None:
    """Have the system ask a silent peer whether it is there, after 5 s and then every 2 s."""
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in (("TCP_KEEPIDLE", 5), ("TCP_KEEPINTVL", 2), ("TCP_KEEPCNT", 3)):
        if hasattr(socket, name):
            connection.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)

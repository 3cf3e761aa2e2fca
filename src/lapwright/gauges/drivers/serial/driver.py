"""A serial port, read in a thread of its own so that each chunk is stamped as it arrives."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from typing import Any

from lapwright.errors import BadInput, Fault, NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.byte_stream import BYTE_OPTIONS, ByteFeed, ask
from lapwright.gauges.drivers.serial.port import PORT_OPTIONS, open_port
from lapwright.gauges.frames.options import check_frame_options
from lapwright.gauges.roles import Link, Sink

OPTIONS = (*PORT_OPTIONS, *BYTE_OPTIONS)


def connect(place: str, options: Options) -> Link:
    """The link to the port of a name or path."""
    if not place:
        raise BadInput([Fault(sentence="A serial source needs its port; write it like 'serial:/dev/ttyUSB0?unit=um'.")])
    check_frame_options(options)
    return SerialLink(place, options)


class SerialLink:
    """One port, opened anew by each `run`."""

    has_own_time = False

    def __init__(self, path: str, options: Options) -> None:
        self._path, self._options = path, options

    async def run(self, sink: Sink) -> None:
        """Open the port and hand on what is heard until it is gone."""
        port = await asyncio.to_thread(open_port, self._path, self._options)
        sink.connected()
        feed = ByteFeed(self._options, sink)
        reader = _Reader(port, feed, sink)

        async def send(request: bytes) -> None:
            await asyncio.to_thread(port.write, request)

        asking = asyncio.create_task(ask(send, self._options, failed=reader.end))
        try:
            reason = await reader.ended
        finally:
            asking.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await asking
            await reader.stop()
            feed.finish()
        raise NotConnected(f"Serial port {self._path} is gone ({reason}). Check the cable.")


class _Reader:
    """The thread that reads a port. `ended` gets the reason when the port is gone."""

    def __init__(self, port: Any, feed: ByteFeed, sink: Sink) -> None:
        self._port, self._feed, self._sink = port, feed, sink
        self._loop = asyncio.get_running_loop()
        self.ended: asyncio.Future[str] = self._loop.create_future()
        self._going = True
        self._thread = threading.Thread(target=self._read, name="serial port", daemon=True)
        self._thread.start()

    def _read(self) -> None:
        reason = "closed"
        try:
            while self._going:
                data = self._port.read(max(1, min(self._port.in_waiting, 4096)))
                if data:
                    self._call(self._feed.take, data, self._sink.now())
        except (OSError, TypeError) as error:  # pyserial reads from None when the port is closed under it
            reason = str(error)
        self._call(self.end, reason)

    def _call(self, function: Any, *arguments: Any) -> None:
        with contextlib.suppress(RuntimeError):  # the loop is closed: nobody listens any more
            self._loop.call_soon_threadsafe(function, *arguments)

    def end(self, reason: str) -> None:
        """Say that the port is gone; the first reason counts."""
        if not self.ended.done():
            self.ended.set_result(reason)

    async def stop(self) -> None:
        """End the thread and let go of the port."""
        self._going = False
        with contextlib.suppress(OSError, AttributeError):
            self._port.cancel_read()
        await asyncio.to_thread(self._thread.join, 1.0)
        with contextlib.suppress(OSError):
            self._port.close()

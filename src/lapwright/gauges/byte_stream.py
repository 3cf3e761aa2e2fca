"""What serial ports and network sockets share: a stream of bytes that may be joined in its middle, and asking.

A number that lost its first digits is still a number. So a frame whose beginning may have been missed is left out:
when the first byte comes within 50 ms of the connection, the sender may have been in the middle of a line. A gauge
that is asked answers with whole lines.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from lapwright.gauges.address import Option, Options, number_between
from lapwright.gauges.frames import Decoder
from lapwright.gauges.frames.options import FRAME_OPTIONS, text_decoder
from lapwright.gauges.roles import Sink

QUIET = 0.05  # s of silence before the first byte after which a line is taken to begin with it


def read_request(text: str) -> bytes:
    """Bytes that ask a gauge for a reading."""
    return text.encode("latin-1")


#: Options of a source that is a stream of bytes.
BYTE_OPTIONS = (
    *FRAME_OPTIONS,
    Option(name="request", read=read_request, help="bytes that ask for a reading, like P%0D; else we only listen"),
    Option(name="every_ms", read=number_between(1, 60_000, "ms"), default="200", help="time between two requests [ms]"),
)


class ByteFeed:
    """From the bytes of one connection to frames at the sink."""

    def __init__(self, options: Options, sink: Sink) -> None:
        self._options, self._sink, self._opened = options, sink, sink.now()
        self._decoder: Decoder | None = None

    def take(self, data: bytes, at: float) -> None:
        """Hand on what is complete with these bytes, which arrived at a time [s]."""
        if self._decoder is None:
            joined = at - self._opened < QUIET and not self._options["request"]
            self._decoder = text_decoder(self._options, joined=joined)
        self._sink.frames(self._decoder.feed(data), at)

    def finish(self) -> None:
        """The connection is at its end: a cut-off frame is told."""
        if self._decoder is not None:
            self._sink.frames(self._decoder.finish())


async def ask(send: Callable[[bytes], Awaitable[None]], options: Options, *, failed: Callable[[str], None]) -> None:
    """Ask for readings for ever, or until asking fails; at once return when the gauge sends by itself."""
    while options["request"]:
        try:
            await send(options["request"])
        except OSError as error:
            failed(f"it takes no request: {error}")
            return
        await asyncio.sleep(options["every_ms"] / 1000.0)

"""Values typed on a terminal: by hand, or by a gauge that plugs in as a keyboard.

The place is the path of a terminal or pipe; empty means standard input. For a gauge that types into a page the page
itself takes the value; this source is for a recorder without one.
"""

from __future__ import annotations

import asyncio
import os
import stat
import sys
from contextlib import suppress

from lapwright.errors import GaugeError, NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.frames.keyed import KeyedValues
from lapwright.gauges.frames.options import LENGTH_OPTIONS, length_format
from lapwright.gauges.roles import Link, Sink

OPTIONS = LENGTH_OPTIONS


def connect(place: str, options: Options) -> Link:
    """The link to a terminal, or to standard input."""
    return KeyboardLink(place, options)


class KeyboardLink:
    """Standard input or one terminal, opened anew by each `run`."""

    has_own_time = False

    def __init__(self, path: str, options: Options) -> None:
        self._path, self._options = path, options

    async def run(self, sink: Sink) -> None:
        """Listen until the terminal is gone, or the end of the input is typed."""
        keys = self._open()
        loop = asyncio.get_running_loop()
        ended: asyncio.Future[str] = loop.create_future()
        decoder = KeyedValues(length_format(self._options))

        def hear() -> None:
            try:
                data = os.read(keys, 4096)
            except OSError as error:
                data, reason = b"", str(error.strerror)
            else:
                reason = ""
            if data:
                sink.frames(decoder.feed(data), sink.now())
            else:
                loop.remove_reader(keys)
                if not ended.done():
                    ended.set_result(reason)

        try:
            loop.add_reader(keys, hear)
            sink.connected()
            reason = await ended
        finally:
            loop.remove_reader(keys)
            with suppress(OSError):
                os.close(keys)
        if self._path:
            raise NotConnected(f"{self._path} is gone ({reason or 'closed'}).")

    def _open(self) -> int:
        """A descriptor of our own to read keys from."""
        try:
            keys = os.open(self._path, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK) if self._path else os.dup(0)
        except OSError as error:
            raise NotConnected(f"{self._path or 'Standard input'} cannot be read ({error.strerror}).") from error
        if stat.S_ISREG(os.fstat(keys).st_mode) or sys.platform == "win32":
            os.close(keys)
            raise GaugeError("The keyboard source needs a terminal or a pipe; replay a file with 'replay:FILE'.")
        return keys

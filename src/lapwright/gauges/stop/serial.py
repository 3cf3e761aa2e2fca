"""Stop output as lines on a serial port."""

from __future__ import annotations

import asyncio
import contextlib
from types import TracebackType
from typing import Any, Self

from lapwright.errors import BadInput, Fault, NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.drivers.serial.port import PORT_OPTIONS, open_port
from lapwright.gauges.roles import StopOutput

OPTIONS = PORT_OPTIONS


def connect(place: str, options: Options) -> StopOutput:
    """The machine at a port."""
    if not place:
        raise BadInput([Fault(sentence="A serial stop output needs its port; write it like 'serial:/dev/ttyUSB1'.")])
    return SerialStop(place, options)


class SerialStop:
    """One port, opened anew by each ``async with``."""

    def __init__(self, path: str, options: Options) -> None:
        self._path, self._options = path, options
        self._port: Any = None

    async def __aenter__(self) -> Self:
        self._port = await asyncio.to_thread(open_port, self._path, self._options)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(OSError):
            await asyncio.to_thread(self._port.close)

    async def send(self, message: bytes, *, sequence: int) -> None:  # noqa: ARG002  the message holds it
        """Write one line. Raises `NotConnected`."""
        try:
            await asyncio.to_thread(self._port.write, message)
        except OSError as error:
            raise NotConnected(f"Serial port {self._path} takes no message ({error}). Check the cable.") from error

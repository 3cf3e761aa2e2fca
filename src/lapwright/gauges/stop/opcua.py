"""Stop output as a count in an OPC UA variable: it climbs while the machine may run; 0 is stop.

The program at the machine stops when the count is 0 or has not changed for its own limit.
"""

from __future__ import annotations

import contextlib
from types import TracebackType
from typing import Any, Self

from lapwright.errors import NotConnected
from lapwright.gauges.address import Options
from lapwright.gauges.drivers.opcua.server import SERVER_OPTIONS, endpoint, server_client
from lapwright.gauges.extras import load_extra
from lapwright.gauges.roles import StopOutput

OPTIONS = SERVER_OPTIONS


def connect(place: str, options: Options) -> StopOutput:
    """The machine behind ``host:port/path``."""
    return OpcuaStop(endpoint(place), options)


class OpcuaStop:
    """One connection, made anew by each ``async with``."""

    def __init__(self, url: str, options: Options) -> None:
        self._url, self._options = url, options
        self._stack = contextlib.AsyncExitStack()
        self._node: Any = None
        self._kind: Any = None

    async def __aenter__(self) -> Self:
        async with contextlib.AsyncExitStack() as opening:
            _, self._node = await opening.enter_async_context(server_client(self._url, self._options))
            self._kind = await self._node.read_data_type_as_variant_type()
            self._stack = opening.pop_all()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with contextlib.suppress(NotConnected):
            await self._stack.aclose()

    async def send(self, message: bytes, *, sequence: int) -> None:  # noqa: ARG002  the variable holds a count alone
        """Write the count. Raises `NotConnected`."""
        ua = load_extra("asyncua.ua", package="asyncua", purpose="OPC UA")
        try:
            await self._node.write_value(ua.DataValue(ua.Variant(sequence, self._kind)))
        except (OSError, TimeoutError, ua.UaError) as error:
            raise NotConnected(f"The OPC UA server {self._url} took no count ({error!r}).") from error

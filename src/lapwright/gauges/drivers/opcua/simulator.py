"""A gauge behind an OPC UA server of its own on the loopback address.

The server runs in a thread with its own event loop, so that one server can outlive the loops of several tests.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine
from datetime import UTC, datetime
from types import TracebackType
from typing import Any

from lapwright.gauges.extras import load_extra
from lapwright.gauges.simulating import Peer, free_port

NODE = "ns=2;s=length_um"
PERMIT = "ns=2;s=permit"


class Simulator(Peer):
    """A server with a length in µm, and a count that a client may write.

    With `stays` the server goes on after ``async with``; `shut` ends it.
    """

    def __init__(self, *, stays: bool = False) -> None:
        self._port = free_port()
        place = f"127.0.0.1:{self._port}/gauge"
        self.address = f"opcua:{place}?node=ns%3D2;s%3Dlength_um&unit=um"
        self.permit_address = f"opcua:{place}?node=ns%3D2;s%3Dpermit"
        self._stays = stays
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None
        self._server: Any = None

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.die()
        if not self._stays:
            await self.shut()

    async def revive(self) -> None:
        """Start the server, or let it listen again."""
        if self._thread is None:
            self._loop = asyncio.new_event_loop()
            self._thread = threading.Thread(target=self._loop.run_forever, name="OPC UA server", daemon=True)
            self._thread.start()
            await self._there(self._start())
        else:
            await self._there(self._server.bserver.start())

    async def die(self) -> None:
        """Cut every connection and listen no more; the server behind lives on."""
        await self._there(self._server.bserver.stop())

    async def shut(self) -> None:
        """End the server for good."""
        if self._thread is not None and self._loop is not None:
            await self._there(self._stop())
            self._loop.call_soon_threadsafe(self._loop.stop)
            await asyncio.to_thread(self._thread.join)
            self._loop.close()
            self._thread = None

    async def send(self, *lengths: float) -> None:
        """Write readings [m], each with a time stamp."""
        for length in lengths:
            await self.write(length * 1e6)

    async def send_raw(self, data: bytes) -> None:
        """Write what is no number: a NaN for each line."""
        for _ in data.splitlines():
            await self.write(float("nan"))

    async def write(self, value: float, *, stamp: datetime | None = None) -> None:
        """Write one value with a source time stamp (now, unless told)."""
        await self._there(self._write(value, stamp or datetime.now(UTC)))

    async def permit(self) -> int:
        """The count that a client has written."""
        return int(await self._there(self._server.get_node(PERMIT).read_value()))

    async def clear_permit(self) -> None:
        """Set the count back, as a program at the machine does before a start."""
        ua = load_extra("asyncua.ua", package="asyncua", purpose="OPC UA")
        await self._there(self._server.get_node(PERMIT).write_value(ua.Variant(0, ua.VariantType.UInt32)))

    # ------------------------------------------------------------------------------------------------------------------

    async def _there(self, work: Coroutine[Any, Any, Any]) -> Any:
        assert self._loop is not None
        return await asyncio.wrap_future(asyncio.run_coroutine_threadsafe(work, self._loop))

    async def _start(self) -> None:
        asyncua = load_extra("asyncua", package="asyncua", purpose="OPC UA")
        server = asyncua.Server()
        await server.init()
        server.set_endpoint(f"opc.tcp://127.0.0.1:{self._port}/gauge")
        server.set_security_policy([asyncua.ua.SecurityPolicyType.NoSecurity])
        await server.register_namespace("urn:gauge")
        await server.nodes.objects.add_variable(asyncua.ua.NodeId("length_um", 2), "2:length_um", 0.0)
        permit = await server.nodes.objects.add_variable(
            asyncua.ua.NodeId("permit", 2), "2:permit", 0, asyncua.ua.VariantType.UInt32
        )
        await permit.set_writable()
        await server.start()
        self._server = server

    async def _stop(self) -> None:
        """Stop the server and what it left running."""
        await self._server.stop()
        left = asyncio.all_tasks() - {asyncio.current_task()}
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)

    async def _write(self, value: float, stamp: datetime) -> None:
        ua = load_extra("asyncua.ua", package="asyncua", purpose="OPC UA")
        told = ua.DataValue(ua.Variant(value, ua.VariantType.Double), SourceTimestamp=stamp)
        await self._server.write_attribute_value(self._server.get_node(NODE).nodeid, told)

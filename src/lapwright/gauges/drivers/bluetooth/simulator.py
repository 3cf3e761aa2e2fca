"""A stand-in for the library bleak, so that the driver can be walked through without a radio.

It shows that the driver keeps to the few calls named here. It is no device, and proves nothing about one.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import ModuleType, SimpleNamespace, TracebackType
from typing import Any, Self

from lapwright.gauges.simulating import Peer, line_of

DEVICE = "00:00:5E:00:53:01"  # from the block set aside for documentation, RFC 7042


class PretendError(Exception):
    """What the stand-in raises where the library raises its own."""


class Simulator(Peer):
    """While it is entered, `bleak` is this stand-in."""

    def __init__(self) -> None:
        self.address = f"bluetooth:{DEVICE}?unit=um&characteristic=0000ffe1-0000-1000-8000-00805f9b34fb"
        self._there = False
        self._clients: list[PretendClient] = []
        self._kept: ModuleType | None = None

    async def __aenter__(self) -> Self:
        self._kept = sys.modules.get("bleak")
        stand_in: Any = ModuleType("bleak")
        stand_in.BleakClient = lambda *given, **named: PretendClient(self, *given, **named)
        stand_in.exc = SimpleNamespace(BleakError=PretendError)
        sys.modules["bleak"] = stand_in
        return await super().__aenter__()

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await super().__aexit__(kind, error, trace)
        del sys.modules["bleak"]
        if self._kept is not None:
            sys.modules["bleak"] = self._kept

    async def revive(self) -> None:
        """Be in range."""
        self._there = True

    async def die(self) -> None:
        """Be out of range."""
        self._there = False
        for client in self._clients:
            client.lost(client)
        self._clients = []

    async def send(self, *lengths: float) -> None:
        """Notify of readings [m], one each."""
        for length in lengths:
            await self.send_raw(line_of(length))

    async def send_raw(self, data: bytes) -> None:
        """Notify of bytes as they are."""
        for client in self._clients:
            if client.hear is not None:
                client.hear(None, bytearray(data))

    def find(self, device: str, client: PretendClient) -> None:
        """Take a client on. Raises the stand-in's error for a device out of range."""
        if not self._there or device != DEVICE:
            raise PretendError(f"device {device} was not found")
        self._clients.append(client)


class PretendClient:
    """The calls that the driver makes."""

    def __init__(
        self, peer: Simulator, device: str, *, disconnected_callback: Callable[[object], None], timeout: float
    ) -> None:
        self._peer, self._device, self.lost, self.timeout = peer, device, disconnected_callback, timeout
        self.hear: Callable[[object, bytearray], None] | None = None

    async def __aenter__(self) -> Self:
        self._peer.find(self._device, self)
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.hear = None

    async def start_notify(self, characteristic: str, hear: Callable[[object, bytearray], None]) -> None:  # noqa: ARG002  as the library has it
        """Hand notifications to a function."""
        self.hear = hear

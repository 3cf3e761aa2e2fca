"""What the simulators of the drivers share."""

from __future__ import annotations

import asyncio
import shutil
import socket
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Self

PATIENCE = 5.0  # s that a simulator waits for somebody to listen


def line_of(length: float) -> bytes:
    """A reading as a gauge with a resolution of a nanometre would write it: ``+412.700`` in µm."""
    return f"{length * 1e6:+.3f}\r\n".encode("ascii")


def free_port() -> int:
    """A port on the loopback address that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


async def until_set(event: asyncio.Event) -> None:
    """Wait for somebody to listen. Raises `TimeoutError` after some seconds."""
    async with asyncio.timeout(PATIENCE):
        await event.wait()


class Peer:
    """A simulator's life: it revives on entering and dies on leaving."""

    async def __aenter__(self) -> Self:
        await self.revive()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.die()

    async def revive(self) -> None:
        """Be there, always at the same address."""
        raise NotImplementedError

    async def die(self) -> None:
        """Be gone without a word."""
        raise NotImplementedError


class FolderPeer(Peer):
    """A simulator with a folder of its own, gone when it is left."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="gauge-"))

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await super().__aexit__(kind, error, trace)
        shutil.rmtree(self.folder, ignore_errors=True)

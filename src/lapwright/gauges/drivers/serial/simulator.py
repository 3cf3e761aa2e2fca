"""A gauge at the other end of a pseudo-terminal. Its name stays the same when it dies and comes back."""

from __future__ import annotations

import asyncio
import contextlib
import os
import tty

from lapwright.gauges.simulating import FolderPeer, line_of


class Simulator(FolderPeer):
    """One end of a pty pair; the other is reached by a link in a folder of its own."""

    def __init__(self) -> None:
        super().__init__()
        self._name = self.folder / "tty"
        self.address = f"serial:{self._name}?unit=um&baud=115200"
        self._ends: tuple[int, int] | None = None

    async def revive(self) -> None:
        """Be plugged in."""
        ours, theirs = os.openpty()
        tty.setraw(theirs)
        self._name.unlink(missing_ok=True)
        self._name.symlink_to(os.ttyname(theirs))
        self._ends = (ours, theirs)

    async def die(self) -> None:
        """Be unplugged."""
        self._name.unlink(missing_ok=True)
        for end in self._ends or ():
            with contextlib.suppress(OSError):
                os.close(end)
        self._ends = None

    async def send(self, *lengths: float) -> None:
        """Send readings [m] as lines."""
        for length in lengths:
            await self.send_raw(line_of(length))

    async def send_raw(self, data: bytes) -> None:
        """Send bytes as they are, as fast as they are taken."""
        assert self._ends is not None
        view = memoryview(data)
        while view:
            written = await asyncio.to_thread(os.write, self._ends[0], view[:1024])
            view = view[written:]

    async def heard(self) -> bytes:
        """What was sent to us since the last call."""
        assert self._ends is not None
        os.set_blocking(self._ends[0], False)
        try:
            return os.read(self._ends[0], 65536)
        except BlockingIOError:
            return b""
        finally:
            os.set_blocking(self._ends[0], True)

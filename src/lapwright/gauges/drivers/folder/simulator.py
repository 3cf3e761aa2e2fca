"""An instrument that writes lines into files of a folder."""

from __future__ import annotations

import shutil

from lapwright.gauges.simulating import FolderPeer, line_of


class Simulator(FolderPeer):
    """Adds to one file; `next_file` begins another."""

    def __init__(self) -> None:
        super().__init__()
        self.path = self.folder / "readings"
        self.address = f"folder:{self.path}?unit=um&look_ms=20"
        self._number = 1

    async def revive(self) -> None:
        """Make the folder."""
        self.path.mkdir()

    async def die(self) -> None:
        """Take the folder away."""
        shutil.rmtree(self.path, ignore_errors=True)

    def next_file(self) -> None:
        """Begin another file."""
        self._number += 1

    async def send(self, *lengths: float) -> None:
        """Add readings [m] as lines."""
        for length in lengths:
            await self.send_raw(line_of(length))

    async def send_raw(self, data: bytes) -> None:
        """Add bytes as they are."""
        with (self.path / f"{self._number:04}.txt").open("ab") as file:
            file.write(data)

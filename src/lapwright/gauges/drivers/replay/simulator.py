"""A stream file written row by row, for a replay that is opened when it is complete."""

from __future__ import annotations

from lapwright.gauges.simulating import FolderPeer


class Simulator(FolderPeer):
    """A file with one reading each `step` s of its own `time`, which may be moved on by hand."""

    def __init__(self, *, step: float = 0.2) -> None:
        super().__init__()
        self._path = self.folder / "run.csv"
        self.address = f"replay:{self._path}?speed=max"
        self.step, self.time = step, 0.0

    async def revive(self) -> None:
        """Begin the file."""
        self._path.write_text("time_s,length_um\n", encoding="utf-8")

    async def die(self) -> None:
        """Take the file away."""
        self._path.unlink(missing_ok=True)

    async def send(self, *lengths: float) -> None:
        """Add readings [m]."""
        for length in lengths:
            self.time += self.step
            await self.send_raw(f"{self.time:.3f},{length * 1e6:.3f}\n".encode())

    async def send_raw(self, data: bytes) -> None:
        """Add bytes as they are."""
        with self._path.open("ab") as file:
            file.write(data)

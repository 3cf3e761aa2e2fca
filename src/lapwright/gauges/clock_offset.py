"""How far a sender's clock stands off ours, from the frames themselves.

Each frame shows offset + travel time; the quickest of the last minute comes nearest to the offset (the minimum
filter of network time keeping: D. L. Mills, RFC 5905, section 10, keeps the sample of least delay; from memory). What
a frame took longer than that is its lag. Drift of the two clocks within a minute, some 3 ms at 50 ppm, is not told
from travel.
"""

from __future__ import annotations

from collections import deque

SPAN = 60.0  # s


class ClockOffset:
    """The least of (arrival − device time) over the last minute, by a row that only climbs."""

    def __init__(self) -> None:
        self._row: deque[tuple[float, float]] = deque()

    @property
    def value(self) -> float | None:
        """Our clock less the sender's [s]; None before the first frame."""
        return self._row[0][1] if self._row else None

    def add(self, arrived: float, device_time: float) -> float:
        """Take one frame; how much longer it was under way than the quickest [s]."""
        offset = arrived - device_time
        while self._row and self._row[-1][1] >= offset:
            self._row.pop()
        self._row.append((arrived, offset))
        while self._row[0][0] < arrived - SPAN:
            self._row.popleft()
        return offset - self._row[0][1]
